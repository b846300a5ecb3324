/// Who may ask: Host, Origin and token of a request.
#pragma once

#include <optional>
#include <string>

#include "apps/fuelwright/server/request.h"

namespace fuelwright::apps::server {

struct Knock {
  std::string method;
  std::string host;                   ///< header Host; empty: none came
  std::optional<std::string> origin;  ///< header Origin
  std::string site;                   ///< header Sec-Fetch-Site; may be empty
  std::string token;                  ///< header X-Fuelwright-Token
  bool to_api = false;
};

/// Nothing, or the refusal.
std::optional<Answer> refused(const Knock& knock, int port, const std::string& token);

/// 32 hex digits that nobody can guess. Error: io.
Result<std::string> fresh_token();

}  // namespace fuelwright::apps::server
