#include "apps/fuelwright/server/request.h"

#include "service/api/json.h"

namespace fuelwright::apps::server {

std::string text_of(const Json& json) {
  return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

Answer answer(const Json& json, int status) { return {status, text_of(json) + "\n"}; }

Answer refusal(int status, const std::string& code, const std::string& where,
               const std::string& message) {
  return answer({{"error", {{"code", code}, {"where", where}, {"message", message}}}}, status);
}

Answer refusal(const Error& error) { return {http_status(error.code), service::json(error)}; }

}  // namespace fuelwright::apps::server
