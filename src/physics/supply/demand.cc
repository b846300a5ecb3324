#include "physics/supply/demand.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/contract.h"
#include "physics/ensemble/sample.h"
#include "physics/ensemble/uncertain.h"

namespace fuelwright::physics::supply {
namespace {

Error bad(std::string message) { return {ErrorCode::bad_input, "demand", std::move(message)}; }

constexpr double kCp = 1005;  // J/(kg K), air

}  // namespace

Status check(const Demand& d) {
  const std::size_t n = d.speeds.size();
  if (n < 2) return bad(fmt::format("{} speeds, expected 2 or more", n));
  for (std::size_t i = 0; i < n; ++i) {
    if (!(d.speeds[i].rpm > 0) || (i > 0 && !(d.speeds[i] > d.speeds[i - 1])))
      return bad("speeds must be above 0 and increase");
  }
  if (d.manifold.size() != n)
    return bad(fmt::format("{} manifold pressures for {} speeds", d.manifold.size(), n));
  if (d.air.empty() || d.power.size() != d.air.size())
    return bad(fmt::format("{} engines' air, {} engines' power", d.air.size(), d.power.size()));
  for (std::size_t m = 0; m < d.air.size(); ++m) {
    if (d.air[m].size() != n || d.power[m].size() != n)
      return bad(fmt::format("engine {} has {} values for {} speeds", m + 1, d.air[m].size(), n));
    for (std::size_t i = 0; i < n; ++i) {
      if (!(d.air[m][i].si >= 0 && std::isfinite(d.air[m][i].si)) ||
          !std::isfinite(d.power[m][i].si))
        return bad(fmt::format("engine {} at {:.0f} rpm: air {} kg/s, power {} W", m + 1,
                               d.speeds[i].rpm, d.air[m][i].si, d.power[m][i].si));
    }
  }
  return Done{};
}

MassFlow fuel_for(MassFlow air, car::Lambda mixture, double stoichiometric) {
  EXPECTS(mixture.value > 0 && stoichiometric > 0);
  return air / (mixture.value * stoichiometric);  // (supply.17)
}

RuleOfThumb rule_of_thumb(Power power, double stoichiometric, bool boosted) {
  constexpr double kPetrol = 14.6;
  const auto flow = [&](double lb_per_hp_h) {
    return std::max(0.0, power.in(horsepower)) * lb_per_hp_h * kPetrol / stoichiometric *
           lb_per_h;  // (supply.18)
  };
  return boosted ? RuleOfThumb{flow(0.55), flow(0.65)} : RuleOfThumb{flow(0.45), flow(0.50)};
}

Result<Demand> boosted(const Demand& demand, const Boost& boost, std::uint64_t seed) {
  if (!(boost.pressure.si >= 0 && boost.pressure.si <= 300e3)) {
    return Error{ErrorCode::out_of_range, "boost",
                 fmt::format("{:.4g} kPa, expected 0 to 300 kPa", boost.pressure.in(kPa))};
  }
  Demand out = demand;
  if (boost.pressure.si == 0) return out;
  out.boosted = true;
  const auto z = normal_sample(static_cast<int>(demand.air.size()), 3, seed);
  const double t1 = boost.intake.from_zero.si;
  for (std::size_t m = 0; m < demand.air.size(); ++m) {
    const auto row = static_cast<Eigen::Index>(m);
    const double eta = std::clamp(0.60 + 0.12 / k95 * z(row, 0), 0.35, 0.85);
    const double e = boost.cooler ? std::clamp(0.65 + 0.10 / k95 * z(row, 1), 0.3, 0.95) : 0.0;
    const double fill = 0.02 + 0.03 / k95 * z(row, 2);
    for (std::size_t i = 0; i < demand.speeds.size(); ++i) {
      const double p = demand.manifold[i].from_zero.si;
      const double r = (p + boost.pressure.si) / p;
      const double t2 = t1 * (1 + (std::pow(r, 0.4 / 1.4) - 1) / eta);
      const double t3 = t2 - e * (t2 - t1);
      const double more = r * t1 / t3 * (1 + fill);
      out.air[m][i] = more * demand.air[m][i];
      const double drive = boost.driven ? out.air[m][i].si * kCp * (t2 - t1) / 0.9 : 0;
      out.power[m][i] = Power{demand.power[m][i].si * more - drive};  // (supply.19)
    }
  }
  for (AbsolutePressure& p : out.manifold) p = p + boost.pressure;
  return out;
}

}  // namespace fuelwright::physics::supply
