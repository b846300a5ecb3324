#include "car/fuel/mixture.h"

#include <fmt/format.h>

#include <cctype>
#include <cmath>

#include "base/units/number.h"

namespace fuelwright::car {
namespace {

constexpr double kLowestConstant = 5;
constexpr double kHighestConstant = 20;

std::string lowered(std::string_view text) {
  std::string out;
  for (const char c : text) out += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  const auto first = out.find_first_not_of(" \t");
  if (first == std::string::npos) return {};
  return out.substr(first, out.find_last_not_of(" \t") - first + 1);
}

}  // namespace

Result<MixtureScale> MixtureScale::in_afr(double constant) {
  if (!(constant >= kLowestConstant && constant <= kHighestConstant)) {
    return Error{
        ErrorCode::out_of_range, "",
        fmt::format(
            "an AFR scale on {} cannot be; the constant is what the gauge shows at lambda 1, "
            "{} to {} (14.7 on most petrol gauges)",
            constant, kLowestConstant, kHighestConstant)};
  }
  return MixtureScale(ScaleKind::afr, constant);
}

Result<MixtureScale> MixtureScale::parse(std::string_view text) {
  const std::string word = lowered(text);
  if (word == "lambda") return in_lambda();
  if (word == "equivalence" || word == "equivalence ratio" || word == "phi")
    return in_equivalence();
  if (word == "afr" || word == "a/f") {
    return Error{ErrorCode::needs_answer, "",
                 "an AFR scale needs the constant of its instrument (what it shows at lambda 1): "
                 "say \"afr 14.7\" if "
                 "it is the common 14.7, or the gauge's own number"};
  }
  if (word.starts_with("afr")) {
    std::string_view rest = std::string_view(word).substr(3);
    if (const auto on = rest.find("on "); on != std::string_view::npos) rest = rest.substr(on + 3);
    if (const auto constant = parse_double(rest)) return in_afr(*constant);
  }
  return Error{ErrorCode::bad_input, "",
               fmt::format("unknown mixture scale \"{}\"; expected \"lambda\", \"afr 14.7\" (with "
                           "the constant of the "
                           "instrument) or \"equivalence\"",
                           text)};
}

Result<Lambda> MixtureScale::to_lambda(double reading) const {
  if (!std::isfinite(reading) || reading <= 0) {
    return Error{
        ErrorCode::out_of_range, "",
        fmt::format("{} is no mixture on {}; expected a number above 0", reading, label())};
  }
  if (kind_ == ScaleKind::equivalence) return Lambda{1 / reading};
  return Lambda{reading / constant_};  // (fuel.4)
}

double MixtureScale::to_reading(Lambda mixture) const {
  EXPECTS(mixture.value > 0);
  if (kind_ == ScaleKind::equivalence) return 1 / mixture.value;
  return mixture.value * constant_;
}

std::string MixtureScale::text() const {
  if (kind_ == ScaleKind::lambda) return "lambda";
  return kind_ == ScaleKind::afr ? fmt::format("afr {}", constant_) : "equivalence";
}

std::string MixtureScale::label() const {
  if (kind_ == ScaleKind::lambda) return "the lambda scale";
  if (kind_ == ScaleKind::equivalence) return "the equivalence scale (1/lambda)";
  return fmt::format("AFR on the {} scale", constant_);
}

std::string format(Lambda mixture, const MixtureScale& scale) {
  const std::string first = fmt::format("lambda {:.3f}", mixture.value);
  if (scale.kind() == ScaleKind::lambda) return first;
  const double reading = scale.to_reading(mixture);
  if (scale.kind() == ScaleKind::equivalence)
    return fmt::format("{} (equivalence {:.3f})", first, reading);
  return fmt::format("{} ({:.1f} AFR on the {} scale)", first, reading, scale.constant());
}

}  // namespace fuelwright::car
