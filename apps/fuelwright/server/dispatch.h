/// Finds the route of a request.
#pragma once

#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "apps/fuelwright/server/context.h"

namespace fuelwright::apps::server {

/// All routes, in the order in which they are tried.
const std::vector<Route>& all_routes();

/// The route, or the refusal (404, 405).
std::variant<const Route*, Answer> find_route(const std::string& method,
                                              const std::vector<std::string>& path);

/// The pieces of a path as it stands in a request line, decoded one by one (RFC 3986); so that
/// "%2F" in a piece never parts it. Errors: usage for a wrong escape, a piece that is empty, "." or
/// "..", or a control character.
Result<std::vector<std::string>> pieces_of(std::string_view path);

}  // namespace fuelwright::apps::server
