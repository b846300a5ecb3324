#include <fmt/format.h>

#include "base/units/number.h"
#include "signals/recording/recording.h"

namespace fuelwright::signals {
namespace {

constexpr const char* kForm = "expected \"HEADER=QUANTITY:UNIT\", such as \"CLT=coolant:degF\"";
constexpr double kShortestStep = 1e-6;
constexpr double kLongestStep = 3600;

}  // namespace

Status add_channel_answer(Answers& answers, std::string_view text) {
  const auto equals = text.rfind('=');
  if (equals == std::string_view::npos || equals == 0 || equals + 1 == text.size()) {
    return Error{ErrorCode::usage, "--channel", fmt::format("\"{}\" came; {}", text, kForm)};
  }
  const std::string_view said = text.substr(equals + 1);
  const auto colon = said.find(':');
  const std::string_view what = said.substr(0, colon);
  ChannelAnswer answer;
  if (colon != std::string_view::npos) answer.unit = std::string(said.substr(colon + 1));
  if (!what.empty()) {
    answer.what = find_quantity(what);
    if (!answer.what) {
      return Error{ErrorCode::usage, "--channel",
                   fmt::format("\"{}\" is no quantity (known: {})", what, quantity_names())};
    }
  }
  if (!answer.what && answer.unit.empty()) {
    return Error{ErrorCode::usage, "--channel",
                 fmt::format("\"{}\" says nothing; {}", text, kForm)};
  }
  const std::string header(text.substr(0, equals));
  const auto [it, fresh] = answers.channels.emplace(header, answer);
  if (!fresh && (it->second.what != answer.what || it->second.unit != answer.unit)) {
    return Error{ErrorCode::usage, "--channel", fmt::format("two answers came for \"{}\"", header)};
  }
  return Done{};
}

Result<Duration> parse_row_step(std::string_view text) {
  double step = 0;
  if (const auto rate = parse_number(text, Kind::frequency)) {
    step = rate->si > 0 ? 1 / rate->si : 0;
  } else {
    const auto spacing = parse_number(text, Kind::time);
    if (!spacing) {
      return Error{
          ErrorCode::usage, "--rate",
          fmt::format(
              "\"{}\" came; expected rows per second (\"10 Hz\") or their spacing (\"100 ms\")",
              text)};
    }
    step = spacing->si;
  }
  if (!(step >= kShortestStep && step <= kLongestStep)) {
    return Error{ErrorCode::out_of_range, "--rate",
                 fmt::format("\"{}\" came; expected a spacing of rows between 1 us and 1 h", text)};
  }
  return step * second;
}

std::string Question::line() const {
  std::string give;
  for (std::size_t i = 0; i < options.size(); ++i) {
    give += (i == 0 ? "" : i + 1 == options.size() ? " or " : ", ") + options[i].give;
  }
  return fmt::format("\"{}\": {}; give {}", header, unclear, give);
}

}  // namespace fuelwright::signals
