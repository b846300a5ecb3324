/// Air by three witnesses, row by row [ln kg/s]; NaN where one is silent.
///
///   by fuel    lambda AFR_st N s q (PW - d0) n/120          by meter   MAF
///   by table   VE p V_d n/(120 R T)                                           (sensor_checks.7)
#pragma once

#include "advice/sensor_checks/internal/looking.h"

namespace fuelwright::advice {

class AirWitness {
 public:
  explicit AirWitness(const Looking& l);
  bool has_fuel() const { return pulse_ && lambda_ && speed_; }
  bool has_meter() const { return meter_ != nullptr; }
  bool has_table() const { return table_ && map_ && speed_; }

  double by_fuel(std::size_t row) const;
  double by_meter(std::size_t row) const;
  /// The table in force; without one a volumetric efficiency of 0.8 everywhere.
  double by_table(std::size_t row) const;
  /// ln(flow/flow at no dead time error per second of it): d ln(fuel)/d(dead time) is minus this.
  double per_open_time(std::size_t row) const;

 private:
  double dead_s(std::size_t row) const;
  const Looking* l_;
  const car::Surface* table_;
  const Column *speed_, *map_, *lambda_, *pulse_, *meter_, *intake_, *battery_, *throttle_;
};

/// Warm, running, out of a cut for 2 s, pressure and speed steady for a second: rows whose mixture
/// belongs to their place in the table.
std::vector<char> settled_rows(const Looking& l, double load_ln = 0.12, double speed_ln = 0.08);

}  // namespace fuelwright::advice
