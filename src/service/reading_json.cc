#include "service/reading_json.h"

#include <nlohmann/json.hpp>

#include "service/job/calibration_json.h"
#include "signals/channels/quantity.h"

namespace fuelwright::service {

std::string json_text(const HowRead& how) {
  nlohmann::json j = nlohmann::json::object();
  for (const auto& [header, answer] : how.answers.channels) {
    nlohmann::json a = nlohmann::json::object();
    if (answer.what) a["quantity"] = signals::info(*answer.what).name;
    if (!answer.unit.empty()) a["unit"] = answer.unit;
    j["channels"][header] = a;
  }
  if (how.answers.afr_constant) j["afr_constant"] = *how.answers.afr_constant;
  if (how.answers.row_step) j["row_step_s"] = how.answers.row_step->si;
  if (how.answers.unordered) j["unordered"] = true;
  if (how.answers.ambient) j["ambient_pa"] = how.answers.ambient->from_zero.si;
  if (how.driven_with) j["driven_with"] = *how.driven_with;
  if (how.learned) {
    car::Calibration factors;
    factors.tables.emplace(car::TableWhat::correction, *how.learned);
    j["learned"] = json_of(factors);
  }
  return j.dump();
}

Result<HowRead> read_how(const std::string& text, const std::string& where) {
  const auto j = nlohmann::json::parse(text, nullptr, false);
  const Error damaged{ErrorCode::damaged, where, "how it was read cannot be read back"};
  if (!j.is_object()) return damaged;
  HowRead how;
  try {
    const nlohmann::json channels = j.value("channels", nlohmann::json::object());
    for (const auto& [header, a] : channels.items()) {
      signals::ChannelAnswer answer;
      if (a.contains("quantity")) {
        answer.what = signals::find_quantity(a.at("quantity").get<std::string>());
        if (!answer.what) return damaged;
      }
      answer.unit = a.value("unit", "");
      how.answers.channels.emplace(header, std::move(answer));
    }
    if (j.contains("afr_constant")) how.answers.afr_constant = j.at("afr_constant").get<double>();
    if (j.contains("row_step_s")) how.answers.row_step = j.at("row_step_s").get<double>() * second;
    how.answers.unordered = j.value("unordered", false);
    if (j.contains("ambient_pa"))
      how.answers.ambient = absolute(j.at("ambient_pa").get<double>() * pascal);
    if (j.contains("driven_with")) how.driven_with = j.at("driven_with").get<int>();
    if (j.contains("learned")) {
      const auto factors = calibration_from(j.at("learned"));
      if (!factors || !factors->find(car::TableWhat::correction)) return damaged;
      how.learned = *factors->find(car::TableWhat::correction);
    }
  } catch (const nlohmann::json::exception&) {
    return damaged;
  }
  return how;
}

}  // namespace fuelwright::service
