#include "advice/prediction/prediction.h"

#include <algorithm>
#include <cmath>

#include "base/contract.h"
#include "car/build/derived.h"

namespace fuelwright::advice {

using namespace physics;

namespace {

constexpr double kLeast_pa = 2e3;
constexpr int kSpeeds = 16, kPressures = 10;
constexpr int kFine = 25;  // nodes a side of the surface from which breakpoints are chosen

double map_of(const car::Sheet& sheet, double load_si) {
  const double ambient = sheet.place.pressure.value.from_zero.si;
  // A vacuum beyond the ambient pressure (tables made at sea level) is nowhere; edges hold there.
  return std::max(kLeast_pa, sheet.wishes.load_axis.value == car::LoadAxis::vacuum
                                 ? ambient - load_si
                                 : load_si);
}

// Spark is wanted for the mixture that will be burnt there: full-throttle mixture above this share
// of ambient.
constexpr double kRichFrom = 0.85;

struct Mixtures {
  WorkingGas cruise, full;
};

Status fill_spark(const car::Sheet& sheet, const Burner& burner, const Mixtures& gas,
                  const AirMap& centre, AirPrediction* air) {
  const double ambient = sheet.place.pressure.value.from_zero.si;
  SparkSettings settings = burner.spark;
  settings.margin = crank_degrees(0);
  settings.intervals = false;
  const std::size_t nx = air->grid.x.size();
  for (std::size_t i = 0; i < air->map_pa.size(); ++i) {
    const double p = std::clamp(air->map_pa[i], centre.pressures.front().from_zero.si,
                                centre.pressures.back().from_zero.si);
    AirNode node = node_between(centre, rpm(air->grid.x[i % nx]), absolute(p * pascal));
    node.speed = rpm(std::max(200.0, node.speed.rpm));
    const bool rich = air->map_pa[i] > kRichFrom * ambient;
    const auto found = node.trapped_air.si > 0
                           ? spark(rich ? gas.full : gas.cruise, charge_at(burner, node), settings)
                           : Result<SparkChoice>(Error{ErrorCode::out_of_range, "no air", ""});
    // A charge that does not burn has no best spark: the next node's rule takes over
    // (first_calibration).
    air->mbt_deg.push_back(found ? found->mbt.degrees() : 30);
    air->knock_deg.push_back(found && found->knock_limited ? found->knock_limit.degrees() : 90);
  }
  return Done{};
}

// Air on the unit's axes from the ensemble's nodes.
Status fill_air(const car::Sheet& sheet, const Ensemble& ensemble, const AirMap& centre,
                AirPrediction* air) {
  FW_TRY(const Eigen::MatrixXd weights, weights_onto(ensemble, air->grid));
  const Eigen::VectorXd mean = weights * ensemble.mean();
  const Eigen::MatrixXd half = weights * ensemble.covariance();
  const std::size_t nx = air->grid.x.size();
  for (std::size_t i = 0; i < air->grid.size(); ++i) {
    const auto row = static_cast<Eigen::Index>(i);
    const double p = map_of(sheet, air->grid.y[i / nx]);
    air->map_pa.push_back(p);
    air->ve.push_back(std::exp(mean[row]));
    air->sd_log.push_back(std::sqrt(std::max(0.0, half.row(row).dot(weights.row(row)))));
    double reachable = 0, weight = 0;
    for (Eigen::Index k = 0; k < ensemble.nodes(); ++k) {
      reachable += weights(row, k) * ensemble.reachable_share(k);
      weight += weights(row, k);
    }
    air->reachable.push_back(weight > 0 ? std::clamp(reachable / weight, 0.0, 1.0) : 0);
    const AirNode node =
        node_between(centre, rpm(air->grid.x[i % nx]), absolute(std::max(0.0, p) * pascal));
    air->residual.push_back(node.residual);
  }
  return Done{};
}

// Points between the ends of a unit's axis that a person would choose: multiples of a round step.
Result<car::Axis> fine_axis(const car::Axis& unit, double round) {
  const double low = unit[0], high = unit[unit.size() - 1];
  std::vector<double> points{low};
  for (int i = 1; i + 1 < kFine; ++i) {
    const double x = round * std::round((low + (high - low) * i / (kFine - 1)) / round);
    if (x > points.back() + 1e-9 && x < high - 1e-9) points.push_back(x);
  }
  points.push_back(high);
  return car::Axis::make(unit.kind(), points);
}

// VE between the unit's nodes, for its breakpoints.
Result<car::Surface> fine_surface(const Ensemble& ensemble, const car::Grid& unit) {
  FW_TRY(const car::Axis x, fine_axis(unit.x, 25));
  FW_TRY(const car::Axis y,
         fine_axis(unit.y, unit.y.kind() == car::AxisKind::throttle ? 0.01 : 1000));
  const car::Grid grid{x, y};
  FW_TRY(const Eigen::MatrixXd weights, weights_onto(ensemble, grid));
  const Eigen::VectorXd mean = weights * ensemble.mean();
  car::Surface out{grid, {}};
  for (Eigen::Index i = 0; i < mean.size(); ++i) out.values.push_back(std::exp(mean[i]));
  return out;
}

// Air goes with T^-n: from the same engine with warmer intake air, over the speeds and pressures
// that are driven, so that waves that fall elsewhere average out. What textbooks give bounds it
// (0.4 to 0.9; Heywood 1988, section 6.2, from memory): below, a cold day would be lean, above, a
// hot one rich.
Result<double> charge_exponent(const car::Sheet& sheet) {
  constexpr double kWarmer_k = 20, kLeast = 0.4, kMost = 0.9;
  FW_TRY(const EngineModel engine, engine_model(sheet));
  MapPlaces places{{}, {}, surroundings_of(sheet)};
  for (const double n : {1500.0, 2000.0, 2500.0, 3000.0, 3500.0, 4000.0})
    places.speeds.push_back(rpm(n));
  for (const double p : {45.0, 60.0, 75.0, 90.0}) places.pressures.push_back(absolute(p * kPa));
  const AirMap cold = air_map(engine, places);
  const double t = places.surroundings.intake_air.from_zero.si;
  places.surroundings.intake_air = kelvin(t + kWarmer_k);
  const AirMap warm = air_map(engine, places);
  double sum = 0;
  int n = 0;
  for (std::size_t i = 0; i < cold.nodes.size(); ++i) {
    if (!cold.nodes[i].reachable || !warm.nodes[i].reachable) continue;
    // ve is referred to the intake temperature: the mass goes with ve/T (prediction.1)
    sum += 1 - std::log(warm.nodes[i].ve / cold.nodes[i].ve) / std::log((t + kWarmer_k) / t);
    ++n;
  }
  return n > 0 ? std::clamp(sum / n, kLeast, kMost) : 0.6;
}

MixtureChoice choice(std::string where, car::Lambda from, car::Lambda to, const MixtureCost& cost) {
  return {std::move(where), from, to, cost.torque, cost.fuel, cost.bsfc, cost.indicated_half_width};
}

// What the usual questions about mixture cost: a richer or leaner full throttle, a leaner cruise.
Status fill_mixtures(const car::Sheet& sheet, const Burner& burner, const Mixtures& gas,
                     const AirMap& centre, Prediction* out) {
  const double constant = sheet.wishes.scale.value.kind() == car::ScaleKind::afr
                              ? sheet.wishes.scale.value.constant()
                              : car::kCommonGaugeConstant;
  const auto ask = [&](const std::string& where, const WorkingGas& a, double afr_step,
                       EngineSpeed speed, double map) -> Status {
    const car::Lambda to = car::lambda(std::clamp(a.lambda.value + afr_step / constant, 0.65, 1.7));
    FW_TRY(const WorkingGas b, working_gas(burner.fuel, to));
    const AirNode node = node_between(centre, speed, absolute(map * pascal));
    if (!node.reachable || node.trapped_air.si <= 0) return Done{};
    // Where the engine gives no torque a share of it says nothing: then it is left out.
    const auto cost =
        mixture_cost(a, b, charge_at(burner, node), burner.engine, node.pumping, burner.spark);
    if (cost) out->mixtures.push_back(choice(where, a.lambda, to, *cost));
    return Done{};
  };
  const double ambient = sheet.place.pressure.value.from_zero.si;
  const EngineSpeed fast = rpm(std::round(out->full.peak_power_rpm.middle / 100) * 100);
  FW_CHECK(ask("full throttle", gas.full, 1.0, fast, 0.98 * ambient));
  FW_CHECK(ask("full throttle", gas.full, -0.5, fast, 0.98 * ambient));
  return ask("cruise", gas.cruise, 0.3, rpm(2200), 0.5 * ambient);
}

}  // namespace

MapPlaces places_for(const car::Sheet& sheet) {
  const car::Grid grid = car::table_grid(sheet);
  const double ambient = sheet.place.pressure.value.from_zero.si;
  const double idle = sheet.wishes.idle_speed.value.rpm, limit = sheet.wishes.rev_limit.value.rpm;
  const double low = std::clamp(std::min(0.75 * idle, grid.x[0]), 400.0, 3000.0);
  const double high =
      std::clamp(std::max(limit * 1.03, grid.x[grid.x.size() - 1]), low + 1000, 11'900.0);
  MapPlaces out;
  for (int i = 0; i < kSpeeds;
       ++i) {  // steps grow a little: tuning is finer in ln rpm at low speed
    const double s = static_cast<double>(i) / (kSpeeds - 1);
    const double shape = 0.65 * s + 0.35 * s * s;
    out.speeds.push_back(rpm(low + (high - low) * shape));
  }
  double top = 0.995 * ambient;
  if (sheet.wishes.load_axis.value == car::LoadAxis::map)
    top = std::max(top, grid.y[grid.y.size() - 1]);
  top = std::clamp(top, 60e3, 390e3);
  const double bottom = std::min(22e3, 0.4 * ambient);
  for (int i = 0; i < kPressures; ++i) {
    const double s = static_cast<double>(i) / (kPressures - 1);
    out.pressures.push_back(
        absolute((bottom + (top - bottom) * (0.75 * s + 0.25 * s * s)) * pascal));
  }
  out.surroundings = surroundings_of(sheet);
  return out;
}

Result<Prediction> predict_engine(const car::Sheet& sheet, const Ensemble& ensemble,
                                  const PredictionSettings& settings) {
  Prediction out{.air = {.grid = car::table_grid(sheet)}};
  FW_TRY(const Burner burner, burner_of(sheet));
  FW_TRY(const WorkingGas cruise, working_gas(burner.fuel, sheet.wishes.cruise_mixture.value));
  FW_TRY(const WorkingGas full, working_gas(burner.fuel, sheet.wishes.full_throttle_mixture.value));
  const Mixtures gas{cruise, full};
  const AirMap& centre = ensemble.drawn().centre;
  const std::vector<AirMap> members = ensemble.honest_members(settings.seed + kOfDiscrepancy);
  FW_TRY(FullThrottle full_curve, full_throttle(sheet, members, settings.seed + kOfBurn));
  FW_TRY(Idle idle, idle_of(sheet, members, settings.seed + kOfBurn));
  out.full = std::move(full_curve);
  out.idle = std::move(idle);
  AirPrediction& air = out.air;
  FW_CHECK(fill_air(sheet, ensemble, centre, &air));
  FW_CHECK(fill_spark(sheet, burner, gas, centre, &air));
  for (std::size_t i = 0; i < out.full.speeds.size(); ++i) {
    air.full_speed_rpm.push_back(out.full.speeds[i].rpm);
    air.full_torque_nm.push_back(out.full.torque_nm[i].middle);
  }
  const Interval map = out.idle.map_pa.value_or(Interval{40e3, 60e3, 80e3});
  air.idle_map = absolute(map.middle * pascal);
  air.idle_map_sd = (map.high - map.low) / (2 * k95) * pascal;
  const Interval flow = out.idle.map_pa ? out.idle.air_kg_s : Interval{0.002, 0.005, 0.010};
  air.idle_air = flow.middle * kg_per_s;
  air.idle_air_sd = (flow.high - flow.low) / (2 * k95) * kg_per_s;
  air.ambient = sheet.place.pressure.value;
  air.intake_air = ensemble.drawn().places.surroundings.intake_air;
  FW_TRY(const double exponent, charge_exponent(sheet));
  air.charge_exponent = exponent;
  air.charge_exponent_sd = 0.15;  // what textbooks and engines differ by (from memory)
  FW_TRY(const car::Surface fine, fine_surface(ensemble, air.grid));
  air.fine_ve = fine;
  FW_CHECK(fill_mixtures(sheet, burner, gas, centre, &out));
  return out;
}

}  // namespace fuelwright::advice
