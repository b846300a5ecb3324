/// docs/http.md as a table: which keys a reply has.
#pragma once

#include <map>
#include <nlohmann/json.hpp>
#include <set>
#include <string>
#include <vector>

namespace fuelwright::tests {

struct DocumentedRoute {
  std::string method;
  std::vector<std::string> path;  ///< below /api/v1; a piece in capitals is any one
  std::set<std::string> keys;     ///< of its reply; of work: of the item
  std::set<std::string> reply;    ///< of work: of its `reply`
  bool is_work = false;
};

/// All of docs/http.md, read once. Keys that refer to another route are followed.
const std::vector<DocumentedRoute>& documented();
/// nullptr if the page does not have it.
const DocumentedRoute* documented(const std::string& method, const std::string& target);

std::set<std::string> keys_of(const nlohmann::json& object);

}  // namespace fuelwright::tests
