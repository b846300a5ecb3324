#include "advice/outlook/supply_ahead.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "physics/ensemble/sample.h"
#include "physics/supply/balance.h"
#include "physics/supply/from_sheet.h"

namespace fuelwright::advice {

using namespace physics::supply;

namespace {

std::vector<double> row_of(const Eigen::MatrixXd& m, Eigen::Index r) {
  std::vector<double> out(static_cast<std::size_t>(m.cols()));
  for (Eigen::Index k = 0; k < m.cols(); ++k) out[static_cast<std::size_t>(k)] = m(r, k);
  return out;
}

}  // namespace

Result<std::vector<System>> drawn_supply(const car::Sheet& sheet,
                                         const SupplyAheadSettings& settings) {
  if (settings.systems < 16 || settings.systems > 1024) {
    return Error{ErrorCode::out_of_range, "fuel systems",
                 fmt::format("{} were asked for; 16 to 1024 can be drawn", settings.systems)};
  }
  FW_TRY(const Supplied from, supply_of(sheet));
  std::vector<RailBin> bins;
  if (settings.trace && settings.needs.size() >= 2) {
    FW_TRY(bins, binned(*settings.trace));
  }
  const auto z = physics::normal_sample(settings.systems,
                                        static_cast<int>(from.unknowns.size()) + 1, settings.seed);
  const auto u = physics::uniform_sample(settings.systems, 3, settings.seed + 1);
  constexpr double kSensor = 0.01;  // of the rail, one standard deviation: as size_supply() does
  std::vector<System> out;
  for (Eigen::Index i = 0; i < z.rows(); ++i) {
    System s = drawn(from, row_of(z, i));
    if (!bins.empty()) {
      const double middle = from.delivery ? s.pump.strength : from.system.pump.strength;
      const TraceDraw draw{
          u(i, 0), u(i, 1),
          kSensor * physics::inverse_normal(u(i, 2)) * from.system.regulator.setting};
      fit_to(&s, bins, settings.needs, {std::log(middle), from.strength_sd}, draw);
    }
    out.push_back(std::move(s));
  }
  return out;
}

double missing_fuel(const System& s, const Need& need) {
  if (need.fuel.si <= 0) return 0;
  const OperatingPoint p = balance(s, need);
  const MassFlow within = most_fuel(s.injectors, s.arrangement, need.speed, p.across,
                                    s.rail_density(), s.wiring.source);
  const double sent = std::min(p.delivered.si, within.si);
  constexpr double kMost = 10;  // nobody drives with a tenth of the fuel
  return std::log(std::clamp(need.fuel.si / std::max(sent, 1e-12), 1.0, kMost));  // (outlook.7)
}

MixedMixture::MixedMixture(double middle, double sd, std::vector<double> missing)
    : middle_(middle), sd_(sd), missing_(std::move(missing)) {
  EXPECTS(sd_ > 0 && !missing_.empty());
}

double MixedMixture::above(double ln_lambda) const {
  double sum = 0;
  for (const double a : missing_)
    sum += 0.5 * std::erfc((ln_lambda - middle_ - a) / sd_ / std::numbers::sqrt2);
  return sum / static_cast<double>(missing_.size());
}

double MixedMixture::quantile(double share) const {
  EXPECTS(share > 0 && share < 1);
  constexpr double kFar = 9;  // standard deviations
  constexpr int kHalvings = 50;
  const auto [least, most] = std::minmax_element(missing_.begin(), missing_.end());
  double low = middle_ + *least - kFar * sd_, high = middle_ + *most + kFar * sd_;
  for (int i = 0; i < kHalvings; ++i) {
    const double x = (low + high) / 2;
    (above(x) > 1 - share ? low : high) = x;
  }
  return (low + high) / 2;
}

}  // namespace fuelwright::advice
