#include "service/mapping.h"

#include <fmt/format.h>

#include "service/reading_json.h"
#include "signals/channels/quantity.h"

namespace fuelwright::service {
namespace {

std::string setting_name(const std::string& kind) { return "mapping:" + kind; }

// Without what holds for one day only.
std::string text_of(signals::Answers answers) {
  answers.ambient.reset();
  return json_text({std::move(answers), std::nullopt});
}

}  // namespace

Result<std::optional<signals::Answers>> kept_answers(const Job& job, const std::string& kind) {
  FW_TRY(const std::optional<std::string> text, job.setting(setting_name(kind)));
  if (!text) return std::optional<signals::Answers>{};
  FW_TRY(HowRead how, read_how(*text, setting_name(kind)));
  return std::optional<signals::Answers>{std::move(how.answers)};
}

signals::Answers merged(signals::Answers now, const signals::Answers& kept) {
  now.channels.insert(kept.channels.begin(), kept.channels.end());
  if (!now.afr_constant) now.afr_constant = kept.afr_constant;
  if (now.row_step || now.unordered) return now;
  now.row_step = kept.row_step;
  now.unordered = kept.unordered;
  return now;
}

std::string describe(const signals::Answers& answers) {
  std::string out;
  const auto add = [&](const std::string& text) { out += (out.empty() ? "" : ", ") + text; };
  for (const auto& [header, answer] : answers.channels) {
    add(fmt::format("{}={}{}{}", header, answer.what ? signals::info(*answer.what).name : "",
                    answer.unit.empty() ? "" : ":", answer.unit));
  }
  if (answers.afr_constant) add(fmt::format("AFR constant {:.4g}", *answers.afr_constant));
  if (answers.row_step) add(fmt::format("rows {:.6g} s apart", answers.row_step->si));
  if (answers.unordered) add("rows in no order");
  return out;
}

Status keep_answers(Job& job, const std::string& kind, const signals::Answers& answers,
                    const By& by) {
  if (describe(answers).empty()) return Done{};
  const std::string text = text_of(answers);
  FW_TRY(const std::optional<std::string> before, job.setting(setting_name(kind)));
  if (before == text) return Done{};
  return job.set_setting(setting_name(kind), text, by);
}

}  // namespace fuelwright::service
