#include "apps/fuelwright/server/dispatch.h"

#include <fmt/format.h>

#include <algorithm>

namespace fuelwright::apps::server {
namespace {

int digit(char c) {
  if (c >= '0' && c <= '9') return c - '0';
  if (c >= 'a' && c <= 'f') return c - 'a' + 10;
  if (c >= 'A' && c <= 'F') return c - 'A' + 10;
  return -1;
}

Error wrong(const char* message) { return {ErrorCode::usage, "path", message}; }

Result<std::string> decoded(std::string_view piece) {
  std::string out;
  for (std::size_t i = 0; i < piece.size(); ++i) {
    char c = piece[i];
    if (c == '%') {
      const int high = i + 2 < piece.size() ? digit(piece[i + 1]) : -1;
      const int low = i + 2 < piece.size() ? digit(piece[i + 2]) : -1;
      if (high < 0 || low < 0) return wrong("holds a % without two hex digits");
      c = static_cast<char>(16 * high + low);
      i += 2;
    }
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f)
      return wrong("holds a control character");
    out += c;
  }
  if (out.empty()) return wrong("holds an empty piece");
  if (out == "." || out == "..") return wrong("may not go up or stay");
  return out;
}

bool fits(const Route& r, const std::vector<std::string>& path) {
  return std::ranges::equal(r.path, path, [](const std::string& pattern, const std::string& piece) {
    return pattern == "*" || pattern == piece;
  });
}

}  // namespace

const std::vector<Route>& all_routes() {
  static const std::vector<Route> kAll = [] {
    std::vector<Route> out;
    for (auto part : {job_routes(), sheet_routes(), recording_routes(), chart_routes(),
                      table_routes(), first_start_routes(), work_routes()}) {
      out.insert(out.end(), part.begin(), part.end());
    }
    return out;
  }();
  return kAll;
}

std::variant<const Route*, Answer> find_route(const std::string& method,
                                              const std::vector<std::string>& path) {
  std::string allowed;
  for (const Route& r : all_routes()) {
    if (!fits(r, path)) continue;
    if (r.method == method || (r.method == "GET" && method == "HEAD")) return &r;
    allowed += (allowed.empty() ? "" : ", ") + r.method;
  }
  if (allowed.empty()) {
    return refusal(Error{ErrorCode::not_found,
                         fmt::format("/api/v1/{}", fmt::join(path, "/")).substr(0, 200),
                         "there is no such route; docs/http.md lists them"});
  }
  Answer out = refusal(405, "method", "method", method + " came; expected " + allowed);
  out.headers.emplace_back("Allow", allowed);
  return out;
}

Result<std::vector<std::string>> pieces_of(std::string_view path) {
  constexpr std::size_t kMost = 8;
  std::vector<std::string> out;
  while (!path.empty()) {
    const auto slash = std::min(path.find('/'), path.size());
    FW_TRY(std::string piece, decoded(path.substr(0, slash)));
    out.push_back(std::move(piece));
    if (out.size() > kMost) return wrong("has too many pieces");
    path.remove_prefix(std::min(slash + 1, path.size()));
  }
  return out;
}

}  // namespace fuelwright::apps::server
