#include "advice/first_start/questions.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>

namespace fuelwright::advice {
namespace {

bool said(car::Source s) { return s == car::Source::measured || s == car::Source::stated; }

std::string yes_no(const std::optional<bool>& a) { return a ? (*a ? "yes" : "no") : ""; }

const std::vector<StartOption>& tappet_options() {
  static const std::vector<StartOption> kOptions{
      {"flat", "flat (solid or hydraulic) on the lobes of a cam in the block"},
      {"roller", "rollers, or finger followers with rollers"},
      {"not-known", "nobody can say; then they are treated as flat"}};
  return kOptions;
}
const std::vector<StartOption>& timing_options() {
  static const std::vector<StartOption> kOptions{
      {"untouched", "distributor, trigger and cam drive stand as when it last ran well"},
      {"checked", "moved or new, and set against the crank's mark by whoever starts it"},
      {"unchecked", "moved or new, and set by somebody else or not checked"}};
  return kOptions;
}

StartQuestion yes_or_no(const char* id, const char* text, const char* yes, const char* no,
                        const char* changes, const std::optional<bool>& answer) {
  return {id, text, {{"yes", yes}, {"no", no}}, changes, yes_no(answer)};
}

template <class E>
std::string given(const std::vector<StartOption>& options, const std::optional<E>& answer) {
  return answer ? options[static_cast<std::size_t>(*answer)].give : "";
}

std::string lower(std::string_view text) {
  std::string out(text);
  std::ranges::transform(out, out.begin(), [](char c) {
    return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a')
                                : (c == '_' || c == ' ' ? '-' : c);
  });
  while (!out.empty() && out.back() == '-') out.pop_back();
  while (!out.empty() && out.front() == '-') out.erase(out.begin());
  return out;
}

Error unclear(std::string_view id, std::string_view text, const std::string& may) {
  return {ErrorCode::bad_input, std::string(id),
          fmt::format("\"{}\" came; expected {}", text, may)};
}

Status take(std::optional<bool>& to, std::string_view id, std::string_view text) {
  const std::string word = lower(text);
  if (word == "yes" || word == "y" || word == "true") {
    to = true;
  } else if (word == "no" || word == "n" || word == "false") {
    to = false;
  } else {
    return unclear(id, text, "yes or no");
  }
  return Done{};
}

template <class E>
Status take(std::optional<E>& to, std::string_view id, std::string_view text,
            const std::vector<StartOption>& options) {
  const std::string word = lower(text);
  std::string may;
  for (std::size_t i = 0; i < options.size(); ++i) {
    if (options[i].give == word) {
      to = static_cast<E>(i);
      return Done{};
    }
    may += (i == 0 ? "" : i + 1 == options.size() ? " or " : ", ") + options[i].give;
  }
  return unclear(id, text, may);
}

}  // namespace

std::vector<StartQuestion> questions_of(const car::Sheet& sheet, const StartAnswers& a) {
  std::vector<StartQuestion> out;
  out.push_back(yes_or_no("fresh_engine",
                          "Is the engine new or rebuilt, or has it stood for more than a year?",
                          "no oil film is left in it", "it has run lately",
                          "how oil is primed, what the compression test says", a.fresh_engine));
  out.push_back(yes_or_no("new_cam",
                          "Is there a camshaft, or are there tappets, that have never run?",
                          "one of them is new", "both have run together before",
                          "whether it may idle, and how it is turned before", a.new_cam));
  if (a.new_cam.value_or(false) && !said(sheet.cam.tappet.source)) {
    out.push_back({"tappets", "What do the tappets run on the cam with?", tappet_options(),
                   "the run-in of the cam", given(tappet_options(), a.tappets)});
  }
  out.push_back(
      yes_or_no("fuel_opened", "Was the fuel system opened anywhere between tank and injectors?",
                "a joint, hose, rail, injector or regulator was off", "all joints are as they were",
                "how long it is tested for leaks", a.fuel_opened));
  // A fresh engine is filled with coolant anyhow.
  if (!a.fresh_engine.value_or(false)) {
    out.push_back(yes_or_no("cooling_opened", "Was coolant drained or a coolant hose off?",
                            "there is air in it", "it is as it was", "whether air must be bled out",
                            a.cooling_opened));
  }
  out.push_back({"timing",
                 sheet.ignition.kind.value == car::IgnitionKind::distributor
                     ? "Was the distributor, the trigger or the cam drive moved, and who set it?"
                     : "Was the crank or cam trigger or the cam drive moved, and who set it?",
                 timing_options(), "what of the ignition is checked before it fires",
                 given(timing_options(), a.timing)});
  return out;
}

std::optional<StartQuestion> open_question(const car::Sheet& sheet, const StartAnswers& answers) {
  for (StartQuestion& q : questions_of(sheet, answers)) {
    if (q.answer.empty()) return std::move(q);
  }
  return std::nullopt;
}

Status answer_question(StartAnswers& a, std::string_view id, std::string_view text) {
  if (id == "fresh_engine") return take(a.fresh_engine, id, text);
  if (id == "new_cam") return take(a.new_cam, id, text);
  if (id == "tappets") return take(a.tappets, id, text, tappet_options());
  if (id == "fuel_opened") return take(a.fuel_opened, id, text);
  if (id == "cooling_opened") return take(a.cooling_opened, id, text);
  if (id == "timing") return take(a.timing, id, text, timing_options());
  return Error{ErrorCode::not_found, std::string(id),
               "no such question; expected fresh_engine, new_cam, tappets, fuel_opened, "
               "cooling_opened or timing"};
}

Tappets tappets_of(const car::Sheet& sheet, const StartAnswers& answers) {
  const car::Tappet kind = sheet.cam.tappet.value;
  if (said(sheet.cam.tappet.source)) {
    const bool flat = kind == car::Tappet::hydraulic_flat || kind == car::Tappet::solid_flat;
    return {.flat = flat,
            .solid = kind == car::Tappet::solid_flat || kind == car::Tappet::solid_roller,
            .overhead = kind == car::Tappet::direct};
  }
  const TappetAnswer said_now = answers.tappets.value_or(TappetAnswer::not_known);
  return {.flat = said_now != TappetAnswer::roller, .certain = said_now != TappetAnswer::not_known};
}

bool cam_runs_in(const car::Sheet& sheet, const StartAnswers& answers) {
  return answers.new_cam.value_or(false) && tappets_of(sheet, answers).flat;
}

}  // namespace fuelwright::advice
