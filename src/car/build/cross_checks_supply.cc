// Section supply: answers that given values demand, and contradictions between given values.
#include <fmt/format.h>

#include <cmath>

#include "base/numerics/interpolate.h"
#include "car/build/internal/reading.h"

namespace fuelwright::car {
namespace {

void wrong_supply(Reading& r, const std::string& path, std::string message) {
  r.report(path, ErrorCode::bad_input, std::move(message));
}

std::vector<double> si_of(const std::vector<PressureStep>& values) {
  std::vector<double> out;
  for (const PressureStep p : values) out.push_back(p.si);
  return out;
}

void check_curve(Reading& r) {
  const Supply& s = r.sheet.supply;
  if (!r.has("supply.pump_curve_flow") || !r.has("supply.pump_curve_pressure")) return;
  const auto p = si_of(s.pump_curve_pressure.values);
  const auto& q = s.pump_curve_flow.values;
  if (p.size() != q.size()) {
    return wrong_supply(r, "supply.pump_curve_flow",
                        fmt::format("{} flows for {} pressures", q.size(), p.size()));
  }
  if (p.size() < 2) {
    return wrong_supply(r, "supply.pump_curve_flow",
                        "one point is no curve; expected 2 or more, or injection.pump_flow alone");
  }
  if (!strictly_increasing(p))
    return wrong_supply(r, "supply.pump_curve_pressure", "must increase");
  for (std::size_t i = 1; i < q.size(); ++i) {
    if (q[i] > q[i - 1])
      return wrong_supply(r, "supply.pump_curve_flow", "a pump's flow does not rise with pressure");
  }
  if (!r.has("injection.pump_flow")) return;
  std::vector<double> flow;
  for (const VolumeFlow one : q) flow.push_back(one.in(litre_per_h));
  const Injection& i = r.sheet.injection;
  const double here = interpolate(p, flow, i.pump_pressure.value.si);
  const double rated = i.pump_flow.value.in(litre_per_h);
  constexpr double kApart = 0.15;
  if (std::abs(here / rated - 1) > kApart) {
    wrong_supply(
        r, "supply.pump_curve_flow",
        fmt::format("the curve says {:.4g} l/h at {:.4g} kPa, injection.pump_flow {:.4g} l/h", here,
                    i.pump_pressure.value.in(kPa), rated));
  }
}

void check_volts(Reading& r) {
  const Supply& s = r.sheet.supply;
  if (!r.has("supply.pump_volts")) return;
  const double lost = s.charging_voltage.value.si - s.pump_volts.value.si;
  const double said = r.sheet.injection.pump_wiring_drop.value.si;
  constexpr double kApart_V = 0.35;
  if (r.has("injection.pump_wiring_drop") && std::abs(lost - said) > kApart_V) {
    r.report("supply.pump_volts", ErrorCode::conflict,
             fmt::format("of {:.4g} V leaves a loss of {:.3g} V, injection.pump_wiring_drop says "
                         "{:.3g} V; give one of them",
                         s.pump_volts.value.si, lost, said));
  }
  if (s.pump_volts.value.si > s.charging_voltage.value.si + 0.3) {
    wrong_supply(r, "supply.pump_volts",
                 fmt::format("{:.4g} V is above the charging voltage of {:.4g} V",
                             s.pump_volts.value.si, s.charging_voltage.value.si));
  }
}

}  // namespace

void check_supply_required(Reading& r) {
  const auto needs = [&](const char* given, const char* needed, const char* what) {
    if (r.has(given) && !r.has(needed)) r.report(given, ErrorCode::needs_answer, what);
  };
  needs("supply.pump_curve_flow", "supply.pump_curve_pressure",
        "at which pressures? Say supply.pump_curve_pressure");
  needs("supply.pump_curve_pressure", "supply.pump_curve_flow",
        "which flow there? Say supply.pump_curve_flow");
  needs("supply.delivery_flow", "supply.delivery_pressure",
        "against which pressure at the rail? Say supply.delivery_pressure");
  needs("supply.delivery_flow", "supply.delivery_volts",
        "with how many volts at the pump? Say supply.delivery_volts");
}

void cross_check_supply(Reading& r) {
  check_curve(r);
  check_volts(r);
  const auto n = static_cast<std::size_t>(r.sheet.injection.injector_count.value);
  const auto& match = r.sheet.supply.injector_match.values;
  if (r.has("supply.injector_match") && match.size() != n) {
    wrong_supply(r, "supply.injector_match",
                 fmt::format("{} values for {} injectors", match.size(), n));
  }
}

}  // namespace fuelwright::car
