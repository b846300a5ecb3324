#include "physics/supply/liquid.h"

#include <cmath>

#include "base/contract.h"

namespace fuelwright::physics::supply {
namespace {

constexpr double kStated_K = 290.65;
constexpr double kReid_K = 310.93;

struct Viscous {
  double at_20, at_40;  // mPa s
  double ln(double t) const {
    const double b = std::log(at_20 / at_40) / (1 / 293.15 - 1 / 313.15);
    return std::log(at_20 * 1e-3) + b * (1 / t - 1 / 293.15);
  }
};
constexpr Viscous kPetrol{0.55, 0.44}, kEthanol{1.20, 0.83}, kMethanol{0.59, 0.46};

double slope_K(const Liquid& f) { return 3300 + f.alcohol * ((f.methanol ? 4500 : 5000) - 3300); }

}  // namespace

Density density_at(const Liquid& fuel, Temperature t) {
  const double beta = (0.95 + 0.15 * fuel.alcohol) * 1e-3;
  return (1 - beta * (t.from_zero.si - kStated_K)) * fuel.density;  // (supply.1)
}

double viscosity_pa_s(const Liquid& fuel, Temperature t) {
  const double k = t.from_zero.si;
  const Viscous& spirit = fuel.methanol ? kMethanol : kEthanol;
  return std::exp((1 - fuel.alcohol) * kPetrol.ln(k) + fuel.alcohol * spirit.ln(k));  // (supply.2)
}

AbsolutePressure vapour_pressure(const Liquid& fuel, Temperature t) {
  const double rise = slope_K(fuel) * (1 / kReid_K - 1 / t.from_zero.si);
  return absolute(std::exp(rise) * fuel.reid.from_zero);  // (supply.3)
}

Temperature boils_at(const Liquid& fuel, AbsolutePressure p) {
  EXPECTS(p.from_zero.si > 0 && fuel.reid.from_zero.si > 0);
  const double inverse =
      1 / kReid_K - std::log(p.from_zero / fuel.reid.from_zero) / slope_K(fuel);  // (supply.3)
  return kelvin(1 / inverse);
}

}  // namespace fuelwright::physics::supply
