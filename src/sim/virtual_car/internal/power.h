/// The engine as the driver feels it: air through the throttle, manifold pressure, torque
/// (virtual_car.12) to (virtual_car.14). SI throughout.
#pragma once

#include "sim/virtual_car/truth.h"

namespace fuelwright::sim::virtual_car {

class Power {
 public:
  explicit Power(const Truth& truth) : truth_(truth) {}

  /// Effective opening for a pedal position 0..1 [m2].
  double throttle_area(double pedal) const;
  /// The pedal that opens so far; held within 0..1.
  double pedal_for_area(double area_m2) const;
  /// Air through an opening from ambient into the manifold; negative if pressure is higher there.
  double flow_kg_s(double area_m2, double map_pa) const;
  /// Dry air and all gas that the cylinders take in.
  struct Intake {
    double air_kg_s;    ///< dry
    double moist_kg_s;  ///< with its water
  };
  Intake intake(double rpm, double map_pa, double intake_k, double coolant_k) const;
  /// Manifold pressure at the end of a step that began at map_pa: what has flowed in less what was
  /// drawn out, implicit in time, so that any step is stable.
  double next_map_pa(double map_pa, double area_m2, double moist_kg_s, double intake_k,
                     double dt_s) const;
  /// At the flywheel [N m]. misfiring: share of cycles that do not burn.
  double torque_nm(double rpm, double map_pa, double richness, double spark_deg, double misfiring,
                   double coolant_k) const;
  double friction_nm(double rpm, double coolant_k) const;
  /// Best spark before top dead centre [deg].
  double best_spark_deg(double rpm, double map_pa) const;
  /// The pressure for a torque at stoichiometric mixture and usual spark, held within 12 kPa and
  /// ambient: what a driver has learned of the car.
  double map_for_torque_pa(double rpm, double torque_nm, double coolant_k) const;
  double exhaust_pa(double air_kg_s) const;

 private:
  const Truth& truth_;
};

inline constexpr double kDryAir_j_kg_k = 287.05;  ///< gas constant of dry air

}  // namespace fuelwright::sim::virtual_car
