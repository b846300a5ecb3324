// The parts of an engine as the flow model needs them, from its build sheet.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "car/build/derived.h"
#include "car/fuel/fuel.h"
#include "physics/breathing/breathing.h"
#include "physics/breathing/internal/lobe.h"
#include "physics/breathing/internal/parts.h"
#include "physics/breathing/internal/ports.h"

namespace fuelwright::physics {
namespace {

using Parts = EngineModel::Parts;

constexpr int kMostCylinders = 12;
constexpr double kThrottleFlow =
    0.85;  // coefficient of an open plate on its shaft; common practice, no source
constexpr double kBonnet_k = 10;  // intake air above the place's; common practice, no source
constexpr double kRatedShareOfLimit =
    0.92;  // speed of full power over the rev limit; common practice, no source
constexpr double kRatedVe = 0.85;         // there; common practice, no source
constexpr double kRatedAir_kg_m3 = 1.18;  // 25 degC, 100 kPa (arithmetic)
constexpr double kRatedLambda = 0.87;     // full throttle; common practice, no source
constexpr double kEarliestShut_deg =
    40;  // valves are shut from here before to here after firing top dead centre

double circle(double diameter_m) { return std::numbers::pi / 4 * diameter_m * diameter_m; }

Error wrong(const char* path, std::string message) {
  return {ErrorCode::out_of_range, path, std::move(message)};
}

Status positive(const char* path, double si) {
  if (si > 0 && std::isfinite(si)) return Done{};
  return wrong(path, fmt::format("{:.4g} cannot be computed with; expected more than 0", si));
}

// Bore and stroke make the displacement where they were given; otherwise the displacement is what
// is known and the bore follows, so that whoever draws the three one by one keeps the tie.
Status fill_cylinder(const car::Sheet& sheet, Parts* p) {
  const car::Engine& e = sheet.engine;
  p->cylinders = e.cylinders.value;
  if (p->cylinders < 1 || p->cylinders > kMostCylinders) {
    return wrong("engine.cylinders", fmt::format("{} cylinders; the flow is computed for 1 to {}",
                                                 p->cylinders, kMostCylinders));
  }
  FW_CHECK(positive("engine.bore", e.bore.value.si));
  FW_CHECK(positive("engine.stroke", e.stroke.value.si));
  FW_CHECK(positive("engine.displacement", e.displacement.value.si));
  const auto given = [](car::Source s) {
    return s == car::Source::measured || s == car::Source::stated;
  };
  p->stroke_m = e.stroke.value.si;
  if (given(e.bore.source) && given(e.stroke.source)) {
    p->bore_m = e.bore.value.si;
    p->swept_m3 = circle(p->bore_m) * p->stroke_m;
  } else {
    p->swept_m3 = car::cylinder_volume(sheet).si;
    p->bore_m = std::sqrt(4 * p->swept_m3 / (std::numbers::pi * p->stroke_m));
  }
  p->compression = e.compression.value;
  if (!(p->compression > 2 && p->compression < 40))
    return wrong("engine.compression",
                 fmt::format("{:.4g} cannot be computed with", p->compression));
  p->clearance_m3 = p->swept_m3 / (p->compression - 1);
  p->rod_m = e.rod_length.value.si;
  constexpr double kShortestRod = 1.0;  // strokes; below about 0.5 the crank would not pass
  if (!(p->rod_m >= kShortestRod * p->stroke_m)) {
    return wrong("engine.rod_length",
                 fmt::format("{:.4g} mm is shorter than the stroke of {:.4g} mm", p->rod_m * 1e3,
                             p->stroke_m * 1e3));
  }
  return Done{};
}

// How often, around the firing order, the next cylinder stands in another bank.
int changes(const std::vector<int>& order, const std::vector<int>& bank) {
  int out = 0;
  for (std::size_t k = 0; k < order.size(); ++k) {
    const int next = order[(k + 1) % order.size()];
    if (bank[static_cast<std::size_t>(order[k] - 1)] != bank[static_cast<std::size_t>(next - 1)])
      ++out;
  }
  return out;
}

// Cylinders are numbered either alternately (odd: first bank, even: second) or bank by bank. The
// sheet does not say which; engines are built so that firings change banks, so the numbering with
// more changes is taken, and the alternating one where both do as well.
std::vector<int> banks_of(const std::vector<int>& order, int banks) {
  const int n = static_cast<int>(order.size());
  banks = std::clamp(banks, 1, n);
  std::vector<int> alternate, block;
  const int deep = (n + banks - 1) / banks;
  for (int c = 0; c < n; ++c) {
    alternate.push_back(c % banks);
    block.push_back(c / deep);
  }
  return changes(order, block) > changes(order, alternate) ? block : alternate;
}

// Even firing: 720 / cylinders apart, also where the engine fires oddly (90 degree V6 and V-twins):
// the sheet does not know.
Status fill_order(const car::Sheet& sheet, Parts* p) {
  const std::vector<int>& order = sheet.engine.firing_order.values;
  const auto n = static_cast<std::size_t>(p->cylinders);
  std::vector<int> sorted = order;
  std::sort(sorted.begin(), sorted.end());
  bool each_once = sorted.size() == n;
  for (std::size_t i = 0; each_once && i < n; ++i) each_once = sorted[i] == static_cast<int>(i) + 1;
  if (!each_once)
    return wrong("engine.firing_order", fmt::format("must name each of {} cylinders once", n));
  p->firing_deg.assign(n, 0.0);
  p->plenum.assign(n, 0);
  const auto arrangement = sheet.intake.arrangement.value;
  const auto first =
      static_cast<std::size_t>(std::find(order.begin(), order.end(), 1) - order.begin());
  for (std::size_t k = 0; k < n; ++k) {
    const auto cylinder = static_cast<std::size_t>(order[(first + k) % n] - 1);
    p->firing_deg[cylinder] = kCycleDegrees * static_cast<double>(k) / static_cast<double>(n);
    // Each half of a two-plane manifold feeds every other cylinder of the firing order.
    if (arrangement == car::IntakeArrangement::two_plane)
      p->plenum[cylinder] = static_cast<int>(k % 2);
    if (arrangement == car::IntakeArrangement::individual_throttles)
      p->plenum[cylinder] = static_cast<int>(cylinder);
  }
  p->plenums = 1 + *std::max_element(p->plenum.begin(), p->plenum.end());
  p->bank = banks_of(order, sheet.engine.banks.value);
  return Done{};
}

// Listed lengths are taken as they are; typical ones keep their pattern about runner_length, so
// that drawing runner_length moves them all.
Status fill_intake(const car::Sheet& sheet, Parts* p) {
  const car::Intake& in = sheet.intake;
  const auto& lengths = in.runner_lengths;
  FW_CHECK(positive("intake.runner_length", in.runner_length.value.si));
  FW_CHECK(positive("intake.runner_diameter", in.runner_diameter.value.si));
  FW_CHECK(positive("intake.plenum_volume", in.plenum_volume.value.si));
  FW_CHECK(positive("intake.throttle_diameter", in.throttle_diameter.value.si));
  FW_CHECK(positive("intake.throttle_count", in.throttle_count.value));
  FW_CHECK(positive("intake.duct_length", in.duct_length.value.si));
  FW_CHECK(positive("intake.duct_diameter", in.duct_diameter.value.si));
  if (lengths.values.size() != static_cast<std::size_t>(p->cylinders)) {
    return wrong("intake.runner_lengths",
                 fmt::format("{} lengths for {} cylinders", lengths.values.size(), p->cylinders));
  }
  double sum = 0;
  for (const Length one : lengths.values) {
    FW_CHECK(positive("intake.runner_lengths", one.si));
    p->runner_m.push_back(one.si);
    sum += one.si;
  }
  p->runner_mean_m = sum / p->cylinders;
  if (lengths.source == car::Source::typical) {
    const double factor = in.runner_length.value.si / p->runner_mean_m;
    for (double& one : p->runner_m) one *= factor;
    p->runner_mean_m = in.runner_length.value.si;
  }
  p->runner_area_m2 = circle(in.runner_diameter.value.si);
  p->plenum_m3 = in.plenum_volume.value.si;
  p->throttle_area_m2 =
      in.throttle_count.value * kThrottleFlow * circle(in.throttle_diameter.value.si);
  p->duct_m = in.duct_length.value.si;
  p->duct_area_m2 = circle(in.duct_diameter.value.si);
  return Done{};
}

Manifold manifold_of(car::ExhaustArrangement arrangement) {
  switch (arrangement) {
    case car::ExhaustArrangement::four_two_one:
      return Manifold::four_two_one;
    case car::ExhaustArrangement::log:
      return Manifold::log;
    case car::ExhaustArrangement::four_into_one:
      break;
  }
  return Manifold::four_into_one;
}

// Exhaust at full power, for the back pressure that is stated there:
//   V n/2 rho VE (1 + 1/(lambda AFR_st)),  n = 0.92 of the rev limit (breathing.24)
double rated_exhaust(const car::Sheet& sheet, const Parts& p) {
  const double cycles = kRatedShareOfLimit * sheet.wishes.rev_limit.value.cycles_per_second();
  const double air = p.swept_m3 * p.cylinders * cycles * kRatedAir_kg_m3 * kRatedVe;
  return air * (1 + 1 / (kRatedLambda * p.stoichiometric));  // (breathing.24)
}

Status fill_exhaust(const car::Sheet& sheet, Parts* p) {
  const car::Exhaust& out = sheet.exhaust;
  FW_CHECK(positive("exhaust.primary_length", out.primary_length.value.si));
  FW_CHECK(positive("exhaust.primary_diameter", out.primary_diameter.value.si));
  FW_CHECK(positive("exhaust.secondary_length", out.secondary_length.value.si));
  FW_CHECK(positive("exhaust.secondary_diameter", out.secondary_diameter.value.si));
  FW_CHECK(positive("exhaust.collector_length", out.collector_length.value.si));
  FW_CHECK(positive("exhaust.collector_diameter", out.collector_diameter.value.si));
  FW_CHECK(positive("wishes.rev_limit", sheet.wishes.rev_limit.value.rpm));
  p->manifold = manifold_of(out.arrangement.value);
  p->primary_m = out.primary_length.value.si;
  p->primary_area_m2 = circle(out.primary_diameter.value.si);
  p->secondary_m = out.secondary_length.value.si;
  p->secondary_area_m2 = circle(out.secondary_diameter.value.si);
  p->collector_m = out.collector_length.value.si;
  p->collector_area_m2 = circle(out.collector_diameter.value.si);
  p->back_pressure_pa = std::max(0.0, out.back_pressure.value.above_ambient.si);
  p->back_pressure_kg_s = rated_exhaust(sheet, *p);
  return Done{};
}

// Lower heating value by Mendeleev's rule 33.9 C + 103.0 H - 10.9 O MJ/kg (from memory;
// petrol 43.3, ethanol 27.4 against 26.8, methanol 20.2 against 19.9). Heat of evaporation and
// molar mass run with the fuel's oxygen from petrol's 350 kJ/kg and 105 g/mol to ethanol's 920 and
// 46 (from memory; within 10 % for methanol).
Status fill_fuel(const car::Sheet& sheet, Parts* p) {
  FW_TRY(const car::Fuel fuel, car::fuel_named(sheet.fuel.name.value));
  FW_CHECK(positive("fuel.stoichiometric", sheet.fuel.stoichiometric.value));
  const car::Composition& c = fuel.composition;
  p->stoichiometric = sheet.fuel.stoichiometric.value;
  p->heating_j_kg = 1e6 * (33.9 * c.carbon + 103.0 * c.hydrogen - 10.9 * c.oxygen);
  p->vaporising_j_kg = 1e3 * (350 + 1640 * c.oxygen);
  p->fuel_molar_kg = 1 / (1 / 0.105 + 38.0 * c.oxygen);
  return Done{};
}

Status check_timing(const ValveArea& valve, const char* path, double earliest, double latest) {
  if (valve.shuts_deg <= valve.opens_deg) return wrong(path, "the valve never opens");
  if (valve.opens_deg >= earliest && valve.shuts_deg <= latest) return Done{};
  return wrong(
      path,
      fmt::format("the valve would be open from {:.0f} to {:.0f} deg after firing top dead centre; "
                  "expected within {:.0f} to {:.0f}",
                  valve.opens_deg, valve.shuts_deg, earliest, latest));
}

Status fill_valves(const car::Sheet& sheet, const Unstated& unstated, Parts* p) {
  FW_TRY(const Lobe intake, Lobe::make(intake_card(sheet, unstated)));
  FW_TRY(const Lobe exhaust, Lobe::make(exhaust_card(sheet, unstated)));
  FW_TRY(const PortArea in, PortArea::make(intake_bench(sheet)));
  FW_TRY(const PortArea out, PortArea::make(exhaust_bench(sheet)));
  const LiftCurve lift = lift_curve(intake);
  p->intake = valve_area(lift, in, unstated);
  p->exhaust = valve_area(lift_curve(exhaust), out, unstated);
  p->intake_lift_max_m = *std::max_element(lift.begin(), lift.end());
  FW_CHECK(
      check_timing(p->intake, "cam.intake_advertised", 180, kCycleDegrees - kEarliestShut_deg));
  FW_CHECK(check_timing(p->exhaust, "cam.exhaust_advertised", kEarliestShut_deg, 540));
  return Done{};
}

}  // namespace

Surroundings surroundings_of(const car::Sheet& sheet) {
  Surroundings out;
  out.ambient = sheet.place.pressure.value;
  out.intake_air = sheet.place.temperature.value + kBonnet_k * kelvin_step;
  return out;
}

Result<EngineModel> engine_model(const car::Sheet& sheet, const Unstated& unstated) {
  auto parts = std::make_shared<Parts>();
  parts->unstated = unstated;
  FW_CHECK(fill_cylinder(sheet, parts.get()));
  FW_CHECK(fill_order(sheet, parts.get()));
  FW_CHECK(fill_intake(sheet, parts.get()));
  FW_CHECK(fill_fuel(sheet, parts.get()));
  FW_CHECK(fill_exhaust(sheet, parts.get()));
  FW_CHECK(fill_valves(sheet, unstated, parts.get()));
  return EngineModel(std::move(parts));
}

}  // namespace fuelwright::physics
