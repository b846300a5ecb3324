#include "car/build/questions.h"

#include <fmt/format.h>

#include "base/units/number.h"
#include "car/build/internal/read_value.h"
#include "car/build/internal/shown.h"
#include "car/build/sheet_file.h"
#include "car/fuel/fuel.h"

namespace fuelwright::car {
namespace {

std::string trimmed(std::string_view text) {
  const auto first = text.find_first_not_of(" \t\r\n");
  if (first == std::string_view::npos) return {};
  return std::string(text.substr(first, text.find_last_not_of(" \t\r\n") - first + 1));
}

// A TOML string; answers hold no control characters.
std::string quoted(std::string_view text) {
  std::string out = "\"";
  for (const char c : text) {
    if (c == '"' || c == '\\') out += '\\';
    out += c;
  }
  return out + '"';
}

Status plain(std::string_view answer) {
  constexpr std::size_t kLongest = 100;
  if (answer.empty() || answer.size() > kLongest) {
    return Error{
        ErrorCode::bad_input, "",
        fmt::format("an answer of {} characters; expected 1 to {}", answer.size(), kLongest)};
  }
  for (const char c : answer) {
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f)
      return Error{ErrorCode::bad_input, "", "the answer holds a control character"};
  }
  return Done{};
}

// The answer as the sheet's reader sees it: limits and units are the key's own.
Result<Held> as_key(const char* path, const std::string& text, const char* bare_unit = "") {
  const toml::value<std::string> node(text);
  return read_held(key_at(path), {&node, Source::stated, "", bare_unit, ""}, Sheet{});
}

std::string echo(const Held& held, const char* path) {
  return shown(held.numbers[0], key_at(path), Sheet{}, UnitSystem::metric);
}

// "4.030 in x 3.480 in" or "86 x 86 mm": the unit of the second holds for both if the first has
// none.
Result<Answer> bore_and_stroke(const std::string& text, std::size_t cut, std::size_t length) {
  std::string bore = trimmed(text.substr(0, cut));
  const std::string stroke = trimmed(text.substr(cut + length));
  FW_TRY(const Measured second, parse_number(stroke, Kind::length));
  if (parse_double(bore)) bore += " " + second.unit;
  FW_TRY(const Held b, as_key("engine.bore", bore));
  FW_TRY(const Held s, as_key("engine.stroke", stroke));
  return Answer{
      fmt::format("{} x {} (bore x stroke)", echo(b, "engine.bore"), echo(s, "engine.stroke")),
      "engine", fmt::format("bore = {}\nstroke = {}\n", quoted(bore), quoted(stroke))};
}

Result<Answer> check_displacement(std::string_view answer) {
  const std::string text = trimmed(answer);
  FW_CHECK(plain(text));
  for (const std::string_view mark : {"x", "X", "\xC3\x97", "*"}) {
    if (const auto cut = text.find(mark); cut != std::string::npos)
      return bore_and_stroke(text, cut, mark.size());
  }
  FW_TRY(const Held held, as_key("engine.displacement", text));
  return Answer{echo(held, "engine.displacement"), "engine",
                fmt::format("displacement = {}\n", quoted(text))};
}

Result<Answer> check_cylinders(std::string_view answer) {
  const std::string text = trimmed(answer);
  FW_CHECK(plain(text));
  FW_TRY(const Held held, as_key("engine.cylinders", text));
  const int count = static_cast<int>(held.numbers[0]);
  return Answer{fmt::format("{} cylinder{}", count, count == 1 ? "" : "s"), "engine",
                fmt::format("cylinders = {}\n", count)};
}

Result<Answer> check_duration(std::string_view answer) {
  const std::string text = trimmed(answer);
  FW_CHECK(plain(text));
  FW_TRY(const Held held,
         as_key("cam.intake_duration_050", text, "deg"));  // the question says degrees
  const bool bare = parse_double(text).has_value();
  return Answer{echo(held, "cam.intake_duration_050") + " at 0.050 in", "cam",
                fmt::format("intake_duration_050 = {}\n", quoted(bare ? text + " deg" : text))};
}

Result<Answer> check_injectors(std::string_view answer) {
  const std::string text = trimmed(answer);
  FW_CHECK(plain(text));
  const toml::value<std::string> node(text);
  FW_TRY(const InjectorFlow flow, read_injector_flow({&node, Source::stated, "", "", ""}, Sheet{}));
  if (!flow.has_pressure) {
    return Error{
        ErrorCode::needs_answer, "",
        fmt::format("\"{}\" at which pressure? Say \"{} at 43.5 psi\" or what the card states",
                    text, text)};
  }
  const Kind kind = flow.by_volume ? Kind::volume_flow : Kind::mass_flow;
  return Answer{fmt::format("{} at {}", format(flow.flow.numbers[0], kind, UnitSystem::metric),
                            echo(flow.pressure, "injection.injector_pressure")),
                "injection", fmt::format("injector_flow = {}\n", quoted(text))};
}

Result<Answer> check_fuel(std::string_view answer) {
  const std::string text = trimmed(answer);
  FW_CHECK(plain(text));
  FW_TRY(const Fuel fuel, fuel_named(text));
  return Answer{fuel.name, "fuel", fmt::format("name = {}\n", quoted(fuel.name))};
}

}  // namespace

const std::vector<Question>& five_questions() {
  static const std::vector<Question> questions = {
      {"engine.displacement", "Displacement, or bore x stroke?",
       "5.7 l, 350 cu in, or 4.030 in x 3.480 in", check_displacement},
      {"engine.cylinders", "How many cylinders?", "8", check_cylinders},
      {"cam.intake_duration_050",
       "Intake duration at 0.050 in of tappet lift, in crank degrees (cam card)?", "214 deg",
       check_duration},
      {"injection.injector_flow", "Flow of one injector, and the pressure at which it is stated?",
       "36 lb/h at 43.5 psi, or 380 cc/min at 3 bar", check_injectors},
      {"fuel.name", "Which fuel?", fuel_names(), check_fuel},
  };
  return questions;
}

Result<std::string> sheet_from_answers(const std::vector<std::string>& answers) {
  const auto& questions = five_questions();
  if (answers.size() != questions.size()) {
    return Error{ErrorCode::usage, "",
                 fmt::format("{} answers came, expected {}", answers.size(), questions.size())};
  }
  std::string out =
      "# Five answers; every other value is filled in from the spread of such engines.\n";
  std::string section;
  for (std::size_t i = 0; i < answers.size(); ++i) {
    auto answer = questions[i].check(answers[i]);
    if (!answer) return Error{answer.error().code, questions[i].id, answer.error().message};
    if (section != answer->section) {
      section = answer->section;
      out += fmt::format("\n[{}]\n", section);
    }
    out += answer->toml;
  }
  FW_TRY(const Sheet sheet, read_sheet(out, "answers"));
  (void)sheet;
  return out;
}

}  // namespace fuelwright::car
