/// What a route is asked and what it answers; no word of the library that carries them.
#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <nlohmann/json.hpp>
#include <string>
#include <utility>
#include <vector>

#include "base/result.h"

namespace fuelwright::apps::server {

using Json = nlohmann::ordered_json;

/// Hands over the pieces of a body one by one; false from `take` ends it.
using Pour =
    std::function<bool(const std::function<bool(const char* data, std::size_t size)>& take)>;

struct Asked {
  std::string method;             ///< "GET"
  std::vector<std::string> path;  ///< below /api/v1, decoded: "jobs", "v8", "sheet"
  Json query = Json::object();    ///< texts by name
  Json body = Json::object();     ///< of a JSON request
  std::string content_type;
  std::int64_t length = -1;  ///< of the body as announced; -1: not
  Pour pour;                 ///< the body of a route that takes bytes
  Pour pour_form_file;       ///< the same out of multipart/form-data: its part `file`
  std::function<std::string()> form_file_name;  ///< known once it pours
};

struct Answer {
  int status = 200;
  std::string body;
  std::string type = "application/json";
  std::vector<std::pair<std::string, std::string>> headers = {};
};

/// One line of JSON with its status; `code` is a name of docs/exit_codes.md or docs/http.md.
Answer refusal(int status, const std::string& code, const std::string& where,
               const std::string& message);
Answer refusal(const Error& error);
/// JSON as it is sent: a text that is no UTF-8 is mended, never thrown.
Answer answer(const Json& json, int status = 200);
std::string text_of(const Json& json);

}  // namespace fuelwright::apps::server
