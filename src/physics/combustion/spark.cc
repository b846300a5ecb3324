// Best torque and knock: the spark a charge wants, and the spark it stands
// (docs/theory/combustion.md, section 4).
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "physics/combustion/internal/start.h"

namespace fuelwright::physics {
namespace {

constexpr double kSparkDegree = std::numbers::pi / 180;
constexpr double kLatest = -25 * kSparkDegree, kEarliest = 60 * kSparkDegree;
constexpr double kFromClosing = 5 * kSparkDegree;  // the spark comes at least this after closing
constexpr double kLookBeyond = 15 * kSparkDegree;  // for the knock limit, ahead of best torque
constexpr double kKnockSettled = 0.002;            // of ln(integral): 0.03 deg
constexpr double kSigmas = 1.959964;               // of a 95 % half-width

double normal_below(double z) { return 0.5 * std::erfc(-z / std::numbers::sqrt2); }

double log_integral(const ClosedCycle& c) { return std::log(std::max(c.knock_integral, 1e-12)); }

class SparkSearch {
 public:
  SparkSearch(const WorkingGas& gas, const ClosedCharge& charge, const Start& start,
              const CombustionUnstated& unstated, double octane)
      : gas_(gas),
        charge_(charge),
        start_(start),
        mixed_(*gas.tables, charge.residual),
        unstated_(unstated),
        earliest_(std::min(kEarliest, -start.theta - kFromClosing)) {
    settings_.octane = octane;
  }

  ClosedCycle at(double advance) const {
    return cycle_of(gas_, mixed_, charge_, start_, advance, unstated_, settings_);
  }
  ClosedCycle with(double advance, const CombustionUnstated& other) const {
    return cycle_of(gas_, mixed_, charge_, start_, advance, other, settings_);
  }

  /// Parabola through three sparks, twice; moved on while the top lies outside.
  double best() const {
    double a = 25 * kSparkDegree;
    for (int i = 0; i < 3; ++i) {  // half burnt 8 deg after the top is where to begin looking
      const double ca50 = burn_of(gas_, charge_, start_, a, unstated_).ca50.rad;
      a = std::clamp(a + ca50 - 8 * kSparkDegree, kLatest + 6 * kSparkDegree,
                     earliest_ - 6 * kSparkDegree);
    }
    double h = 5 * kSparkDegree;
    for (int i = 0; i < 6; ++i) {
      a = std::clamp(a, kLatest + h, earliest_ - h);
      const double y0 = work(a - h), y1 = work(a), y2 = work(a + h);
      const double bend = y0 - 2 * y1 + y2;
      double d = bend < 0 ? 0.5 * h * (y0 - y2) / bend : (y2 > y0 ? 2 * h : -2 * h);
      const bool inside = std::abs(d) <= h;
      d = std::clamp(d, -3 * h, 3 * h);
      a += d;
      if (inside && h < 4 * kSparkDegree) break;
      if (inside) h = 3 * kSparkDegree;
    }
    return std::clamp(a, kLatest, earliest_);
  }

  /// Advance where the knock integral is 1; `ahead` if there is none up to it.
  double knock_limit(double ahead) const {
    const auto f = [&](double a) { return log_integral(at(a)); };
    double high = std::min(ahead, earliest_), fh = f(high);
    if (fh <= 0) return high;
    double low = kLatest, fl = f(low);
    if (fl >= 0) return low;        // knocks at any spark
    for (int i = 0; i < 12; ++i) {  // false position with halving on the side that stays
      const double a = (low * fh - high * fl) / (fh - fl);
      const double y = f(a);
      if (std::abs(y) < kKnockSettled) return a;
      if (y > 0) {
        high = a;
        fh = y;
        fl *= 0.5;
      } else {
        low = a;
        fl = y;
        fh *= 0.5;
      }
    }
    return low;
  }

  double earliest() const { return earliest_; }

 private:
  double work(double advance) const { return at(advance).gross_imep.si; }

  const WorkingGas& gas_;
  const ClosedCharge& charge_;
  const Start& start_;
  gas::ChargeGas mixed_;
  const CombustionUnstated& unstated_;
  CycleSettings settings_;
  double earliest_;
};

/// 95 % half-width of the logarithm of the knock integral with this spark, from octane,
/// sensitivity and end gas.                                                        (combustion.11)
double knock_half_width(const SparkSearch& search, double spark, double octane,
                        const SparkSettings& s, const CombustionUnstated& unstated) {
  double octane_model = 0, warmer = 0;
  for (const CombustionSpread& p : combustion_spreads()) {
    if (p.at == &CombustionUnstated::octane_shift) octane_model = p.half_width;
    if (p.at == &CombustionUnstated::end_gas_shift_k) warmer = p.half_width;
  }
  CombustionUnstated hot = unstated;
  hot.end_gas_shift_k += warmer;
  const double by_heat = log_integral(search.with(spark, hot)) - log_integral(search.at(spark));
  const double numbers = std::hypot(s.ron_half_width, s.sensitivity_half_width / 2, octane_model);
  return std::hypot(3.402 / octane * numbers, by_heat);
}

/// The same in degrees of spark, by the integral's slope; at most how far is looked.
double limit_half_width(const SparkSearch& search, double limit, double log_half_width) {
  const double step = 2 * kSparkDegree;
  const double slope =
      (log_integral(search.at(limit + step)) - log_integral(search.at(limit))) / step;
  return slope * kLookBeyond > log_half_width ? log_half_width / slope : kLookBeyond;
}

Status check_fuel(const SparkSettings& s) {
  if (!(s.ron >= 60 && s.ron <= 140)) {
    return Error{ErrorCode::out_of_range, "ron", fmt::format("came {}, expected 60 to 140", s.ron)};
  }
  if (!(s.sensitivity >= 0 && s.sensitivity <= 30)) {
    return Error{ErrorCode::out_of_range, "sensitivity",
                 fmt::format("came {}, expected 0 to 30", s.sensitivity)};
  }
  if (!(s.margin.rad >= 0 && s.margin.degrees() <= 20)) {
    return Error{ErrorCode::out_of_range, "margin",
                 fmt::format("came {} deg, expected 0 to 20", s.margin.degrees())};
  }
  return Done{};
}

constexpr std::array<CombustionSpread, 6> kSpreads{{
    {"burn angles", &CombustionUnstated::burn, 0.20, "Heywood 1988, spread of chambers, memory"},
    {"heat to the walls", &CombustionUnstated::heat, 0.25, "Heywood 1988, section 12.4, memory"},
    {"share of the charge that burns", &CombustionUnstated::completeness, 0.015,
     "Heywood 1988, figure 3-9 and section 11.4, memory"},
    {"friction", &CombustionUnstated::friction, 0.20, "SAE 890836, memory"},
    {"octane in the engine", &CombustionUnstated::octane_shift, 3, "common practice, no source"},
    {"end gas", &CombustionUnstated::end_gas_shift_k, 20, "Heywood 1988, section 9.6, memory"},
}};

}  // namespace

std::span<const CombustionSpread> combustion_spreads() { return kSpreads; }

Duration knock_delay(double octane, AbsolutePressure p, Temperature end_gas) {
  EXPECTS(octane > 0 && p.from_zero.si > 0 && end_gas.from_zero.si > 0);
  const double atm = p.from_zero.si / 101325.0;
  return 17.68 * std::pow(octane / 100, 3.402) * std::pow(atm, -1.7) *
         std::exp(3800 / end_gas.from_zero.si) * ms;  // (combustion.10)
}

double effective_octane(double ron, double sensitivity) {
  return ron - sensitivity / 2;  // (combustion.11)
}

Result<SparkChoice> spark(const WorkingGas& gas, const ClosedCharge& charge,
                          const SparkSettings& settings, const CombustionUnstated& unstated) {
  FW_CHECK(check_fuel(settings));
  FW_TRY(const Start start, start_of(gas, charge));
  const double octane = effective_octane(settings.ron, settings.sensitivity);
  const SparkSearch search(gas, charge, start, unstated, octane);
  SparkChoice out;
  const double mbt = search.best();
  const double limit = search.knock_limit(mbt + kLookBeyond);
  const double used = std::max(std::min(mbt, limit - settings.margin.rad), kLatest);
  out.mbt = {mbt};
  out.knock_limit = {limit};
  out.used = {used};
  out.knock_limited = used < mbt;
  out.at_bound = mbt >= search.earliest() - kSparkDegree / 10;
  out.best = search.at(mbt);
  out.cycle = out.knock_limited ? search.at(used) : out.best;
  if (settings.intervals) {
    const double half = knock_half_width(search, used, octane, settings, unstated);
    out.knock_limit_half_width = {limit_half_width(search, limit, half)};
    out.knock_chance = normal_below(log_integral(out.cycle) * kSigmas / half);
  }
  return out;
}

Result<double> retard_ratio(const WorkingGas& gas, const ClosedCharge& charge, CrankAngle mbt,
                            CrankAngle retard, const CombustionUnstated& unstated) {
  FW_TRY(const ClosedCycle best, closed_cycle(gas, charge, mbt, unstated));
  FW_TRY(const ClosedCycle late, closed_cycle(gas, charge, mbt - retard, unstated));
  return late.gross_imep / best.gross_imep;
}

}  // namespace fuelwright::physics
