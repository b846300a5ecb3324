/// The unit's own charge-temperature law, read off a recording that has pulse width, target and
/// correction.
///
///   ln(u AFR_st target / ((1 + c) VE p V_d n / 120 R T_i))
///       = c0 - (c1 h + c2)(T_cool - T_i)/T_i + c3 (V_ref - V)/(PW - d0)              (dynamic.3)
///
/// fitted robustly (bisquare) over warm rows; the last term is what the unit's dead-time law
/// differs by from ours, and belongs to the fuel, not to the air.
#pragma once

#include <Eigen/Core>
#include <vector>

namespace fuelwright::advice {

struct LawRow {
  double ln_ratio;         ///< left side of (dynamic.3)
  Eigen::Vector4d column;  ///< of c0 .. c3
  long window = 0;         ///< rows of one half second have the same
};
struct ChargeLaw {
  Eigen::Vector4d c = Eigen::Vector4d::Zero();
  double spread = 0;       ///< robust standard deviation of what is left [-]
  double slow_spread = 0;  ///< the same of its means over windows
  double air(const Eigen::Vector4d& column) const { return c.head<3>().dot(column.head<3>()); }
  double fuel(const Eigen::Vector4d& column) const { return c[3] * column[3]; }
};
/// At least one row.
ChargeLaw fit_charge_law(const std::vector<LawRow>& rows);

}  // namespace fuelwright::advice
