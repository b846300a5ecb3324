/// Mixture: lambda, and what a gauge's reading means.
///
///   lambda = AFR reading / the constant of the instrument or table that produced it     (fuel.4)
///
/// never divided by the stoichiometric ratio of the fuel in the tank: an oxygen sensor sees lambda,
/// and the gauge multiplies it by its own constant. A gauge on the 14.7 scale that reads 12.5 says
/// lambda 0.850 whatever is in the tank; dividing by E10's 14.01 would give 0.892, 4.9 % lean. The
/// constant is asked for; 14.7 is offered, never assumed.
#pragma once

#include <compare>
#include <string>
#include <string_view>

#include "base/result.h"

namespace fuelwright::car {

/// Air over the air that complete combustion needs: 1 stoichiometric, above 1 lean, below 1 rich
/// [-].
struct Lambda {
  double value = 1;
  friend constexpr auto operator<=>(const Lambda&, const Lambda&) = default;
};
constexpr Lambda lambda(double value) { return {value}; }

/// The constant most petrol gauges are built on; offered in questions, never assumed.
inline constexpr double kCommonGaugeConstant = 14.7;

enum class ScaleKind {
  lambda,
  afr,          ///< air-fuel ratio, on a stated constant
  equivalence,  ///< fuel-air equivalence ratio, 1/lambda
};

/// The scale on which a mixture is read or stated.
class MixtureScale {
 public:
  MixtureScale() = default;  ///< lambda itself
  static MixtureScale in_lambda() { return {}; }
  static MixtureScale in_equivalence() { return {ScaleKind::equivalence, 1}; }
  /// Errors: out_of_range unless 5 <= constant <= 20 (methanol 6.4, petrol 14.7).
  static Result<MixtureScale> in_afr(double constant);

  /// "lambda", "equivalence" (or "phi"), "afr 14.7". "afr" without its constant is needs_answer.
  static Result<MixtureScale> parse(std::string_view text);

  ScaleKind kind() const { return kind_; }
  /// Lambda 1 reads this; 1 for lambda and equivalence.
  double constant() const { return constant_; }

  /// (fuel.4). Errors: out_of_range unless the reading is finite and above 0.
  Result<Lambda> to_lambda(double reading) const;
  /// What this scale shows at that lambda; lambda must be above 0.
  double to_reading(Lambda mixture) const;

  /// As parse() reads it: "afr 14.7".
  std::string text() const;
  /// "AFR on the 14.7 scale", for people.
  std::string label() const;

  friend bool operator==(const MixtureScale&, const MixtureScale&) = default;

 private:
  MixtureScale(ScaleKind kind, double constant) : kind_(kind), constant_(constant) {}
  ScaleKind kind_ = ScaleKind::lambda;
  double constant_ = 1;
};

/// "lambda 0.850 (12.5 AFR on the 14.7 scale)": lambda first, then the reading on its own scale.
std::string format(Lambda mixture, const MixtureScale& scale);

}  // namespace fuelwright::car
