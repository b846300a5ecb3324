// The one page of a program that was built without web/.
#include <array>

#include "apps/fuelwright/server/pages.h"

namespace fuelwright::apps::server {

std::span<const PageFile> pages() {
  static constexpr std::array<PageFile, 1> kOnly{{{
      "/index.html",
      "text/html; charset=utf-8",
      "<!doctype html><html lang=\"en\"><meta charset=\"utf-8\"><title>Fuelwright</title>"
      "<p>This program was built without its pages. Its answers stand below /api/v1.</p></html>\n",
      {},
  }}};
  return kOnly;
}

}  // namespace fuelwright::apps::server
