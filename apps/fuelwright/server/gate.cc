#include "apps/fuelwright/server/gate.h"

#include <fmt/format.h>
#include <unistd.h>

#include <array>

namespace fuelwright::apps::server {
namespace {

bool is_ours(const std::string& host, int port) {
  for (const char* name : {"127.0.0.1", "localhost", "[::1]"}) {
    if (host == fmt::format("{}:{}", name, port)) return true;
    if (port == 80 && host == name) return true;
  }
  return false;
}

// In a time that does not tell how much of it was right.
bool same(const std::string& a, const std::string& b) {
  if (a.size() != b.size()) return false;
  unsigned differs = 0;
  for (std::size_t i = 0; i < a.size(); ++i) {
    differs |= static_cast<unsigned char>(a[i]) ^ static_cast<unsigned char>(b[i]);
  }
  return differs == 0;
}

std::string shown(const std::string& text) { return text.substr(0, 80); }

}  // namespace

std::optional<Answer> refused(const Knock& k, int port, const std::string& token) {
  const std::string own = fmt::format("127.0.0.1:{} or localhost:{}", port, port);
  if (!is_ours(k.host, port)) {
    return refusal(403, "host", "Host",
                   fmt::format("\"{}\" came; expected {}", shown(k.host), own));
  }
  if (k.origin) {
    const bool http = k.origin->starts_with("http://");
    if (!http || !is_ours(k.origin->substr(7), port)) {
      return refusal(403, "origin", "Origin",
                     fmt::format("\"{}\" came; expected a page of {}", shown(*k.origin), own));
    }
  }
  if (k.to_api && (k.site == "cross-site" || k.site == "same-site")) {
    return refusal(403, "origin", "Sec-Fetch-Site",
                   fmt::format("\"{}\" came; expected a page of {}", k.site, own));
  }
  const bool reads = k.method == "GET" || k.method == "HEAD" || k.method == "OPTIONS";
  if (!reads && !same(k.token, token)) {
    return refusal(403, "token", "X-Fuelwright-Token",
                   k.token.empty()
                       ? "nothing came; expected the token of GET /api/v1/session"
                       : "an old or wrong token came; expected that of GET /api/v1/session");
  }
  return std::nullopt;
}

Result<std::string> fresh_token() {
  std::array<unsigned char, 16> raw{};
  if (getentropy(raw.data(), raw.size()) != 0) {
    return Error{ErrorCode::io, "token", "the system gives no random numbers"};
  }
  std::string out;
  for (const unsigned char c : raw) out += fmt::format("{:02x}", c);
  return out;
}

}  // namespace fuelwright::apps::server
