#include "sim/road_drive/internal/torque.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace fuelwright::sim {
namespace {

constexpr double kRAir = 287.05;            // J/(kg K), dry air
constexpr double kCharge_k = 320;           // good enough for torque
constexpr double kWorkOfAir_j_kg = 1.08e6;  // 36 % of the energy of the fuel that it burns
constexpr double kDilutionLoss = 1.2;       // of efficiency per residual droop
constexpr double kShutFade_rpm = 900;       // idle by-pass: pressure rises towards low speed
constexpr double kShutRise_pa = 14e3;
constexpr double kOpenLoss_pa = 2.0e3;   // of a fully open intake at 5000 rpm
constexpr double kThrottlePower = 0.62;  // opening = area^power
constexpr double kCritical = 0.53;       // pressure ratio of a choked throttle

double friction_pa(double rpm, double coolant_k) {
  const double k = rpm / 1000.0;
  const double cold = 1.0 + 0.9 * std::clamp((353.15 - coolant_k) / 60.0, 0.0, 1.5);
  return cold * (75e3 + 9e3 * k + 2.2e3 * k * k);
}

/// Flow through an opening relative to choked flow: an ellipse, exact at both ends.
double flow_function(double pressure_ratio) {
  const double x = std::max((pressure_ratio - kCritical) / (1.0 - kCritical), 0.0);
  return std::sqrt(std::max(1.0 - x * x, 0.02));
}

double throttle_area(const Truth& truth, double rpm, double map_pa) {
  const double ve = true_ve(truth, EngineSpeed{rpm}, absolute(map_pa * pascal));
  return ve * map_pa * rpm / flow_function(map_pa / truth.surroundings.ambient.from_zero.si);
}

}  // namespace

double brake_torque_nm(const Truth& truth, double rpm, double map_pa, double coolant_k) {
  const AbsolutePressure p = absolute(map_pa * pascal);
  const EngineSpeed n{rpm};
  const double efficiency = 1.0 - kDilutionLoss * residual_droop(truth, n, p);
  const double gross =
      kWorkOfAir_j_kg * efficiency * true_ve(truth, n, p) * map_pa / (kRAir * kCharge_k);
  const double pumping = truth.breathing.exhaust.from_zero.si - map_pa;
  return (gross - friction_pa(rpm, coolant_k) - pumping) * truth.displacement.si /
         (4.0 * std::numbers::pi);  // (road_drive.9)
}

double shut_pressure_pa(const Truth& truth, double rpm) {
  return truth.vehicle.overrun.si + kShutRise_pa * std::exp(-rpm / kShutFade_rpm);
}

double open_pressure_pa(const Truth& truth, double rpm) {
  return truth.surroundings.ambient.from_zero.si - 400 - kOpenLoss_pa * (rpm / 5000) * (rpm / 5000);
}

double pressure_for_torque_pa(const Truth& truth, double rpm, double torque_nm, double coolant_k) {
  double low = shut_pressure_pa(truth, rpm);
  double high = open_pressure_pa(truth, rpm);
  if (brake_torque_nm(truth, rpm, low, coolant_k) >= torque_nm) return low;
  if (brake_torque_nm(truth, rpm, high, coolant_k) <= torque_nm) return high;
  for (int halving = 0; halving < 14; ++halving) {  // to 5 Pa
    const double mid = 0.5 * (low + high);
    (brake_torque_nm(truth, rpm, mid, coolant_k) < torque_nm ? low : high) = mid;
  }
  return 0.5 * (low + high);
}

double throttle_for(const Truth& truth, double rpm, double map_pa) {
  const Vehicle& v = truth.vehicle;
  const double full = throttle_area(truth, v.redline.rpm, open_pressure_pa(truth, v.redline.rpm));
  const double bypass = throttle_area(truth, rpm, shut_pressure_pa(truth, rpm));
  const double area = throttle_area(truth, rpm, map_pa);
  if (map_pa >= open_pressure_pa(truth, rpm) - 150) return 1.0;
  if (map_pa <= shut_pressure_pa(truth, rpm) + 100) return 0.0;
  return std::pow(std::clamp((area - bypass) / (full - bypass), 0.0, 1.0),
                  kThrottlePower);  // (road_drive.10)
}

}  // namespace fuelwright::sim
