#include "apps/fuelwright/server/page_shelf.h"

#include <fmt/format.h>

#include <map>

#include "apps/fuelwright/server/pages.h"

namespace fuelwright::apps::server {
namespace {

struct Shelved {
  PageFile file;
  std::string tag;
};

// FNV-1a: a name for the bytes, no secret.
std::string tag_of(std::string_view bytes) {
  std::uint64_t h = 14695981039346656037ULL;
  for (const char c : bytes) h = (h ^ static_cast<unsigned char>(c)) * 1099511628211ULL;
  return fmt::format("\"{:016x}\"", h);
}

const std::map<std::string, Shelved, std::less<>>& shelf() {
  static const auto kAll = [] {
    std::map<std::string, Shelved, std::less<>> out;
    for (const PageFile& f : pages()) out.emplace(f.path, Shelved{f, tag_of(f.bytes)});
    return out;
  }();
  return kAll;
}

}  // namespace

Answer page(const std::string& path, const std::string& known, bool takes_gzip) {
  auto it = shelf().find(path);
  const bool is_place = path.rfind('.') == std::string::npos && !path.starts_with("/api");
  if (it == shelf().end() && is_place) it = shelf().find("/index.html");
  if (it == shelf().end()) {
    return refusal(Error{ErrorCode::not_found, path.substr(0, 200), "there is no such page"});
  }
  const auto& [file, tag] = it->second;
  Answer out;
  out.type = std::string(file.media_type);
  out.headers = {{"ETag", tag}, {"Cache-Control", "no-cache"}, {"Vary", "Accept-Encoding"}};
  if (known == tag) {
    out.status = 304;
    return out;
  }
  const bool gzip = takes_gzip && !file.gzip.empty();
  if (gzip) out.headers.emplace_back("Content-Encoding", "gzip");
  out.body = std::string(gzip ? file.gzip : file.bytes);
  return out;
}

}  // namespace fuelwright::apps::server
