/// The browser pages, carried in the program: what web/ builds, as bytes.
///
/// The library target fuelwright_pages (web/CMakeLists.txt) defines pages(); a program built
/// without it says so in the one page of no_pages.cc.
#pragma once

#include <span>
#include <string_view>

namespace fuelwright::apps::server {

struct PageFile {
  std::string_view path;        ///< "/index.html", "/app.js"; "/" is answered with /index.html
  std::string_view media_type;  ///< "text/html; charset=utf-8"
  std::string_view bytes;
  std::string_view gzip;  ///< the same bytes compressed (RFC 1952); empty: there are none
};

/// All files, in any order. They live as long as the program.
std::span<const PageFile> pages();

}  // namespace fuelwright::apps::server
