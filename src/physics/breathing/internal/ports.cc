#include "physics/breathing/internal/ports.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace fuelwright::physics {
namespace {

constexpr double kBenchAir_kg_m3 = 1.2;
constexpr double kBenchPressure_pa = 101'325;
constexpr double kBenchGamma = 1.4;
constexpr double kCurtainCoefficient = 0.70;  // of a valve barely open
constexpr double kMostCurtain = 1.25;  // more than the curtain's whole area, and a bench's error
constexpr double kMostHead = 1.2;
constexpr double kLeastHead = 0.02;  // at the last lift
constexpr double kBeyond = 0.05;     // most growth beyond the last lift
constexpr double kCfm = 0.3048 * 0.3048 * 0.3048 / 60;

// 3 t^2 - 2 t^3, held at 0 and 1 outside.
double smoothstep(double t) {
  t = std::clamp(t, 0.0, 1.0);
  return t * t * (3 - 2 * t);
}

PortBench bench_of(const car::Sheet& sheet, const car::Listed<VolumeFlow>& flow) {
  PortBench out;
  out.stated = flow.source != car::Source::typical;
  for (const Length l : sheet.heads.flow_lift.values) out.lift_m.push_back(l.si);
  for (const VolumeFlow q : flow.values) out.flow_m3_s.push_back(q.si);
  out.depression_pa = sheet.heads.flow_depression.value.si;
  return out;
}

Status check(const PortBench& b) {
  const auto wrong = [&](std::string message) {
    return Error{ErrorCode::out_of_range, b.key, std::move(message)};
  };
  if (b.lift_m.empty() || b.lift_m.size() != b.flow_m3_s.size())
    return wrong(fmt::format("{} flows for {} lifts", b.flow_m3_s.size(), b.lift_m.size()));
  if (!(b.depression_pa > 0 && b.depression_pa < 0.4 * kBenchPressure_pa))
    return wrong(
        fmt::format("a bench depression of {:.4g} Pa cannot be computed with", b.depression_pa));
  if (!(b.diameter_m > 0) || b.valves < 1) return wrong("of a valve without a diameter");
  double before = 0;
  for (std::size_t i = 0; i < b.lift_m.size(); ++i) {
    if (!(b.lift_m[i] > before)) return wrong("lifts of the flow bench must increase from above 0");
    before = b.lift_m[i];
    if (!(b.flow_m3_s[i] > 0 && std::isfinite(b.flow_m3_s[i]))) return wrong("a port without flow");
  }
  return Done{};
}

}  // namespace

PortBench intake_bench(const car::Sheet& sheet) {
  PortBench out = bench_of(sheet, sheet.heads.flow_intake);
  out.key = "heads.flow_intake";
  out.valves = (sheet.heads.valves_per_cylinder.value + 1) / 2;
  out.diameter_m = sheet.heads.intake_valve.value.si;
  return out;
}

PortBench exhaust_bench(const car::Sheet& sheet) {
  PortBench out = bench_of(sheet, sheet.heads.flow_exhaust);
  out.key = "heads.flow_exhaust";
  out.valves =
      sheet.heads.valves_per_cylinder.value - (sheet.heads.valves_per_cylinder.value + 1) / 2;
  out.diameter_m = sheet.heads.exhaust_valve.value.si;
  return out;
}

double effective_area_m2(double flow_m3_s, double depression_pa) {
  constexpr double g = kBenchGamma;
  const double ratio = 1 - depression_pa / kBenchPressure_pa;
  const double psi =
      std::sqrt(2 * g / (g - 1) * (std::pow(ratio, 2 / g) - std::pow(ratio, (g + 1) / g)));
  // p / sqrt(R T) = sqrt(p rho)
  return flow_m3_s * kBenchAir_kg_m3 /
         (std::sqrt(kBenchPressure_pa * kBenchAir_kg_m3) * psi);  // (breathing.22)
}

Result<PortArea> PortArea::make(const PortBench& bench) {
  FW_CHECK(check(bench));
  PortArea out;
  out.diameter_ = bench.diameter_m;
  out.curtain_per_lift_ = bench.valves * std::numbers::pi * bench.diameter_m;
  const double head = bench.valves * std::numbers::pi / 4 * bench.diameter_m * bench.diameter_m;
  for (std::size_t i = 0; i < bench.lift_m.size(); ++i) {
    const double most =
        std::min(kMostCurtain * out.curtain_per_lift_ * bench.lift_m[i], kMostHead * head);
    double area = effective_area_m2(bench.flow_m3_s[i], bench.depression_pa);
    if (area > most && bench.stated) {
      return Error{
          ErrorCode::out_of_range, bench.key,
          fmt::format(
              "{:.4g} cfm at {:.3g} mm of lift is more than {} valve{} of {:.4g} mm can pass",
              bench.flow_m3_s[i] / kCfm, bench.lift_m[i] * 1e3, bench.valves,
              bench.valves == 1 ? "" : "s", bench.diameter_m * 1e3)};
    }
    area = std::min(area, most);
    out.lift_.push_back(bench.lift_m[i]);
    out.area_.push_back(area);
  }
  const double largest = *std::max_element(out.area_.begin(), out.area_.end());
  const double reachable = std::min(head, out.curtain_per_lift_ * out.lift_.back());
  if (largest < kLeastHead * reachable) {
    return Error{
        ErrorCode::out_of_range, bench.key,
        fmt::format("at most {:.3g} cfm is no flow for {} of {:.4g} mm",
                    *std::max_element(bench.flow_m3_s.begin(), bench.flow_m3_s.end()) / kCfm,
                    bench.valves == 1 ? "a valve" : "valves", bench.diameter_m * 1e3)};
  }
  out.coefficient_first_ = out.area_[0] / (out.curtain_per_lift_ * out.lift_[0]);
  // At most twice the table's own, so that the area still grows at the first lift.
  out.coefficient_zero_ =
      std::min(std::max(out.coefficient_first_, kCurtainCoefficient), 2 * out.coefficient_first_);
  out.fit_slopes();
  return out;
}

// Monotone slopes: Butland's weighted harmonic mean inside, the curtain's at the first lift, that
// of the last piece (one-sided, limited) at the end.
void PortArea::fit_slopes() {
  const std::size_t n = lift_.size();
  slope_.assign(n, 0.0);
  const double first = curtain_per_lift_ * (2 * coefficient_first_ - coefficient_zero_);
  slope_[0] = std::max(0.0, first);
  if (n == 1) return;
  const auto secant = [&](std::size_t i) {
    return (area_[i + 1] - area_[i]) / (lift_[i + 1] - lift_[i]);
  };
  slope_[0] = secant(0) > 0 ? std::min(slope_[0], 3 * secant(0)) : 0.0;
  for (std::size_t i = 1; i + 1 < n; ++i) {
    const double a = secant(i - 1), b = secant(i);
    if (a * b <= 0) continue;
    const double ha = lift_[i] - lift_[i - 1], hb = lift_[i + 1] - lift_[i];
    const double share = (ha + 2 * hb) / (3 * (ha + hb));
    slope_[i] = a * b / (share * b + (1 - share) * a);
  }
  const double last = secant(n - 2);
  slope_[n - 1] = std::clamp(1.5 * last - 0.5 * slope_[n - 2], std::min(0.0, 3 * last),
                             std::max(0.0, 3 * last));
}

double PortArea::at(double lift) const {
  if (!(lift > 0)) return 0;
  if (lift <= lift_.front()) {
    const double t = lift / lift_.front();
    return curtain_per_lift_ * lift *
           (coefficient_zero_ + t * (coefficient_first_ - coefficient_zero_));
  }
  if (lift >= lift_.back()) {
    const double most = kBeyond * area_.back();
    const double slope = std::max(0.0, slope_.back());
    return area_.back() + most * (1 - std::exp(-slope * (lift - lift_.back()) / most));
  }
  const auto above = std::upper_bound(lift_.begin(), lift_.end(), lift);
  const auto i = static_cast<std::size_t>(above - lift_.begin()) - 1;
  const double h = lift_[i + 1] - lift_[i];
  const double t = (lift - lift_[i]) / h;
  const double t2 = t * t, t3 = t2 * t;
  return (2 * t3 - 3 * t2 + 1) * area_[i] + (3 * t2 - 2 * t3) * area_[i + 1] +
         h * ((t3 - 2 * t2 + t) * slope_[i] + (t3 - t2) * slope_[i + 1]);
}

double low_lift_factor(double lift_over_diameter, double low) {
  constexpr double kFrom = 0.10, kTo = 0.25;
  return low +
         (1 - low) * smoothstep((lift_over_diameter - kFrom) / (kTo - kFrom));  // (breathing.23)
}

ValveArea valve_area(const LiftCurve& lift, const PortArea& port, const Unstated& unstated) {
  constexpr double kShut_m = 1e-7;
  ValveArea out;
  const auto most = std::max_element(lift.begin(), lift.end());
  for (std::size_t i = 0; i < lift.size(); ++i) {
    if (lift[i] <= kShut_m) continue;
    out.forward[i] =
        port.at(lift[i]) * low_lift_factor(lift[i] / port.diameter_m(), unstated.low_lift_flow);
    out.reverse[i] = out.forward[i] * unstated.reverse_flow;
  }
  const auto open = [&](int degree) {
    return out.forward[static_cast<std::size_t>((degree + 2 * kCycleDegrees) % kCycleDegrees)] > 0;
  };
  const int top = static_cast<int>(most - lift.begin());
  if (!open(top)) return out;
  int first = top, last = top;
  while (first > top - kCycleDegrees && open(first - 1)) --first;
  while (last < first + kCycleDegrees - 1 && open(last + 1)) ++last;
  const int turned = first < 0 ? kCycleDegrees : 0;
  out.opens_deg = first + turned;
  out.shuts_deg = last + turned;
  return out;
}

}  // namespace fuelwright::physics
