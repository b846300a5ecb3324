#include "physics/supply/line.h"

#include <cmath>
#include <numbers>

#include "base/contract.h"

namespace fuelwright::physics::supply {
namespace {

constexpr double kLaminar = 2000, kTurbulent = 4000;

// Newton on x = 1/sqrt f: x + 2 lg(a + b x) = 0, which is concave and rising: no step goes astray.
double colebrook(double re, double relative) {
  const double a = relative / 3.7, b = 2.51 / re;
  double x = -1.8 * std::log10(std::pow(relative / 3.7, 1.11) + 6.9 / re);  // Haaland's start
  for (int i = 0; i < 20; ++i) {
    const double inside = a + b * x;
    const double step = (x + 2 * std::log10(inside)) / (1 + 2 * b / (inside * std::numbers::ln10));
    x -= step;
    if (std::abs(step) < 1e-12 * x) break;
  }
  return 1 / (x * x);  // (supply.6)
}

}  // namespace

double friction_factor(double reynolds, double relative_roughness) {
  EXPECTS(reynolds > 0 && relative_roughness >= 0);
  if (reynolds <= kLaminar) return 64 / reynolds;  // (supply.5)
  if (reynolds >= kTurbulent) return colebrook(reynolds, relative_roughness);
  const double t = (reynolds - kLaminar) / (kTurbulent - kLaminar);
  return (1 - t) * 64 / kLaminar + t * colebrook(kTurbulent, relative_roughness);
}

PressureStep pipe_loss(const Pipe& pipe, VolumeFlow flow, Density rho, double viscosity_pa_s) {
  EXPECTS(flow.si >= 0 && pipe.diameter.si > 0);
  const double d = pipe.diameter.si;
  const double v = flow.si * 4 / (std::numbers::pi * d * d);
  const double re = rho.si * v * d / viscosity_pa_s;
  if (re < 1e-9) return PressureStep{0};
  const double f = friction_factor(re, pipe.roughness.si / d);
  return PressureStep{(f * pipe.length.si / d + pipe.fittings) * rho.si * v * v / 2};  // (supply.4)
}

PressureStep filter_loss(const Filter& filter, VolumeFlow flow) {
  if (filter.at.si <= 0) return PressureStep{0};
  return (flow / filter.at) * filter.loss;  // (supply.7)
}

}  // namespace fuelwright::physics::supply
