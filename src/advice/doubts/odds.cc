#include "advice/doubts/odds.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "base/contract.h"

namespace fuelwright::advice::doubts {
namespace {

constexpr double kSaysNothing = 1e6;  // times the prior's variance

// ln(2 Phi(z)), also far out on the left: Phi(z) there is phi(z)/|z| (1 - 1/z^2).
double ln_two_phi(double z) {
  if (z > -6) return std::log(std::erfc(-z / std::sqrt(2.0)));
  return std::log(2 / (std::sqrt(2 * std::numbers::pi) * -z)) - 0.5 * z * z +
         std::log1p(-1 / (z * z));
}

}  // namespace

double ln_not_zero(const About& l, double usual_sd, double fault_sd) {
  EXPECTS(l.variance > 0 && usual_sd >= 0 && fault_sd > usual_sd);
  const double usual = l.variance + usual_sd * usual_sd;
  const double fault = l.variance + fault_sd * fault_sd;
  return 0.5 * std::log(usual / fault) + 0.5 * l.mean * l.mean * (1 / usual - 1 / fault);
}

double ln_above_zero(const About& l, double usual_sd, double fault_sd) {
  const double z = l.mean * fault_sd / std::sqrt(l.variance * (l.variance + fault_sd * fault_sd));
  return ln_not_zero(l, usual_sd, fault_sd) + ln_two_phi(z);
}

double ln_claim(const About& l, const About& claim, const About& usual) {
  EXPECTS(l.variance > 0 && claim.variance >= 0 && usual.variance >= 0);
  const auto ln_density = [&](const About& of) {
    const double v = l.variance + of.variance;
    return -0.5 * (l.mean - of.mean) * (l.mean - of.mean) / v - 0.5 * std::log(v);
  };
  return ln_density(claim) - ln_density(usual);  // (doubts.4)
}

About likelihood_of(const About& posterior, const About& prior) {
  const double information = 1 / posterior.variance - 1 / prior.variance;
  if (!(information > 1 / (kSaysNothing * prior.variance))) {
    return {prior.mean, kSaysNothing * prior.variance};
  }
  const double h = posterior.mean / posterior.variance - prior.mean / prior.variance;
  return {h / information, 1 / information};
}

double probability(double ln_b, double before) {
  EXPECTS(before > 0 && before < 1);
  const double ln_odds = std::clamp(ln_b + std::log(before / (1 - before)), -700.0, 700.0);
  return 1 / (1 + std::exp(-ln_odds));
}

}  // namespace fuelwright::advice::doubts
