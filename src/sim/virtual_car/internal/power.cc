#include "sim/virtual_car/internal/power.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace fuelwright::sim::virtual_car {
namespace {

constexpr double kGamma = 1.4;
constexpr double kLinearFrom = 0.97;     // pressure ratio; flow goes to zero in a straight line
constexpr double kPedalPower = 1.8;      // opening goes with pedal^power
constexpr double kWork_j_kg = 1.14e6;    // of the air's fuel, at 10:1, less losses below
constexpr double kHeatLoss = 0.5;        // share lost to the walls at no flow ...
constexpr double kHeatAt = 40e3 * 900;   // ... halved where pressure times speed is this [Pa rpm]
constexpr double kDilutionLoss = 0.8;    // of work per burnt share above ...
constexpr double kUsualResidual = 0.08;  // ... this
constexpr double kCycleExponent = 0.27;  // of the compression ratio
constexpr double kSparkLoss = 3.3e-4;    // share of work per square degree off the best
constexpr double kLeastSpark = 0.25;
constexpr double kUsualRetard_deg = 3;
constexpr double kBestRich = 1.14, kRichGain = 0.04;    // 1/lambda of most work, and its gain
constexpr double kRichLoss = 0.45;                      // of work per 1/lambda beyond it
constexpr double kFlooded = 2.2, kDrowned = 2.8;        // 1/lambda: burns ever less, not at all
constexpr double kDiesBelow = 0.45, kSoundFrom = 0.65;  // 1/lambda: too lean to burn, burns
constexpr double kWarm_k = 353.15;
constexpr int kPowerHalvings = 30, kFeelHalvings = 12;
constexpr double kLowest_pa = 12e3;

double psi(double ratio) {
  static const double kChoked = std::pow(2 / (kGamma + 1), kGamma / (kGamma - 1));
  const double r = std::max(ratio, kChoked);
  return std::pow(r, 1 / kGamma) *
         std::sqrt(2 * kGamma / (kGamma - 1) * (1 - std::pow(r, (kGamma - 1) / kGamma)));
}

double flow_function(double ratio) {
  static const double kAtLinear = psi(kLinearFrom);
  if (ratio > kLinearFrom) return kAtLinear * (1 - ratio) / (1 - kLinearFrom);
  return psi(ratio);
}

double work_of_mixture(double richness) {
  const double burns = std::clamp((richness - kDiesBelow) / (kSoundFrom - kDiesBelow), 0.0, 1.0);
  if (richness <= 1) return burns * richness;
  if (richness <= kBestRich) {
    const double off = (kBestRich - richness) / (kBestRich - 1);
    return 1 + kRichGain * (1 - off * off);
  }
  const double flooded = std::clamp((kDrowned - richness) / (kDrowned - kFlooded), 0.0, 1.0);
  return flooded * std::max(1 + kRichGain - kRichLoss * (richness - kBestRich), 0.0);
}

}  // namespace

double Power::throttle_area(double pedal) const {
  const Engine& e = truth_.engine;
  return e.throttle_shut.si + (e.throttle_open.si - e.throttle_shut.si) *
                                  std::pow(std::clamp(pedal, 0.0, 1.0), kPedalPower);
}

double Power::pedal_for_area(double area_m2) const {
  const Engine& e = truth_.engine;
  const double open = (area_m2 - e.throttle_shut.si) / (e.throttle_open.si - e.throttle_shut.si);
  return std::pow(std::clamp(open, 0.0, 1.0), 1 / kPedalPower);
}

double Power::flow_kg_s(double area_m2, double map_pa) const {
  const double p = truth_.weather.ambient.from_zero.si;
  const double a = p / std::sqrt(kDryAir_j_kg_k * truth_.weather.air.from_zero.si);
  return area_m2 * a * flow_function(map_pa / p);  // (virtual_car.12)
}

Power::Intake Power::intake(double rpm, double map_pa, double intake_k, double coolant_k) const {
  const Air& a = truth_.air;
  const double ve = true_ve(truth_, EngineSpeed{rpm}, absolute(map_pa * pascal));
  const double moist = ve * map_pa * truth_.engine.displacement.si * rpm /
                       (120 * kDryAir_j_kg_k * a.reference_intake.from_zero.si);
  const MassFlow flow{moist};
  const double usual =
      true_charge_temperature(truth_, a.reference_intake, a.reference_coolant, flow).from_zero.si;
  const double now =
      true_charge_temperature(truth_, kelvin(intake_k), kelvin(coolant_k), flow).from_zero.si;
  const double warm = moist * usual / now;
  return {warm * dry_share(truth_.weather), warm};
}

double Power::next_map_pa(double map_pa, double area_m2, double moist_kg_s, double intake_k,
                          double dt_s) const {
  const double ambient = truth_.weather.ambient.from_zero.si;
  const double per_pa = truth_.engine.manifold.si / (kDryAir_j_kg_k * intake_k);
  const double drawn = moist_kg_s / map_pa;  // goes with pressure
  double low = 1e3, high = 1.02 * ambient;
  for (int i = 0; i < kPowerHalvings; ++i) {
    const double p = 0.5 * (low + high);
    const double balance =
        (p - map_pa) * per_pa - dt_s * (flow_kg_s(area_m2, p) - drawn * p);  // (virtual_car.13)
    (balance < 0 ? low : high) = p;
  }
  return 0.5 * (low + high);
}

double Power::friction_nm(double rpm, double coolant_k) const {
  const double k = rpm / 1000;
  const double cold = 1 + 0.9 * std::clamp((kWarm_k - coolant_k) / 60, 0.0, 1.6);
  const double mean_pa = truth_.engine.friction * cold * (75e3 + 9e3 * k + 2.2e3 * k * k);
  return mean_pa * truth_.engine.displacement.si / (4 * std::numbers::pi);
}

double Power::exhaust_pa(double air_kg_s) const {
  const double share = air_kg_s / truth_.exhaust.back_pressure_flow.si;
  return truth_.weather.ambient.from_zero.si + truth_.exhaust.back_pressure.si * share * share;
}

double Power::best_spark_deg(double rpm, double map_pa) const {
  const double y = true_residual(truth_, EngineSpeed{rpm}, absolute(map_pa * pascal));
  return 10 + 18 * (1 - std::exp(-rpm / 2000)) + 25 * (y - 0.05) + 6 * (1 - map_pa / 100e3);
}

double Power::torque_nm(double rpm, double map_pa, double richness, double spark_deg,
                        double misfiring, double coolant_k) const {
  const Engine& e = truth_.engine;
  const EngineSpeed n{rpm};
  const AbsolutePressure p = absolute(map_pa * pascal);
  const double ve = true_ve(truth_, n, p);
  const double y = true_residual(truth_, n, p);
  const double off_deg = spark_deg - best_spark_deg(rpm, map_pa);
  const double spark = std::max(1 - kSparkLoss * off_deg * off_deg, kLeastSpark);
  const double heat = 1 - kHeatLoss / (1 + rpm * map_pa / kHeatAt);
  const double cycle =
      (1 - std::pow(e.compression, -kCycleExponent)) / (1 - std::pow(10.0, -kCycleExponent));
  const double dilution = std::clamp(1 - kDilutionLoss * (y - kUsualResidual), 0.3, 1.1);
  const double air = ve * map_pa / (kDryAir_j_kg_k * truth_.air.reference_intake.from_zero.si);
  const double gross_pa = e.work * kWork_j_kg * air * work_of_mixture(richness) * spark * heat *
                          cycle * dilution * (1 - misfiring);
  const double air_kg_s = air * e.displacement.si * rpm / 120;
  const double pumping_pa = exhaust_pa(air_kg_s) - map_pa;
  return (gross_pa - pumping_pa) * e.displacement.si / (4 * std::numbers::pi) -
         friction_nm(rpm, coolant_k);  // (virtual_car.14)
}

double Power::map_for_torque_pa(double rpm, double torque_nm_wanted, double coolant_k) const {
  double low = kLowest_pa, high = truth_.weather.ambient.from_zero.si;
  for (int i = 0; i < kFeelHalvings; ++i) {
    const double p = 0.5 * (low + high);
    const double spark = best_spark_deg(rpm, p) - kUsualRetard_deg;
    (torque_nm(rpm, p, 1.0, spark, 0, coolant_k) < torque_nm_wanted ? low : high) = p;
  }
  return 0.5 * (low + high);
}

}  // namespace fuelwright::sim::virtual_car
