/// What is believed about a table before driving: a mean and a covariance over its nodes.
///
/// The unknown is delta = ln(true value / table value) at every node. Its prior is a sum of
/// independent parts:
///
///   mu_i = sum_l m_l f_l(i)
///   K_ij = sum_k s_k^2 m_k(d_ij) + sum_l s_l^2 f_l(i) f_l(j) + G_ij   (estimate.1)
///
/// m_k  Matern 5/2 of the distance between nodes, in ln rpm and in load: smooth differences of some
/// size and length f_l  a shape that whole engines share (a constant: the level; ln rpm; load; the
/// residual-gas droop at low pressure)
///
/// Theory: docs/theory/map_estimate.md. Source: Gaussian-process regression as in Rasmussen and
/// Williams 2006, chapter 4 (from memory).
#pragma once

#include <Eigen/Core>
#include <functional>
#include <string>
#include <vector>

#include "car/tables/surface.h"

namespace fuelwright::advice {

/// A smooth part: standard deviation of ln, and the lengths over which differences stay alike.
struct SmoothPart {
  double sd;               ///< [-], 0.08 is 8 %
  double length_ln_speed;  ///< [-], 0.7: speeds a factor 2 apart are alike
  double length_load;      ///< in load coordinates (load_coordinate())
};

/// A shape shared by the whole table.
struct ShapePart {
  std::string name;
  double mean;  ///< of its coefficient [-]
  double sd;    ///< of its coefficient [-]
  std::function<double(double ln_speed, double load)> shape;
};

struct Prior {
  std::string description;  ///< one line for people
  std::vector<SmoothPart> smooth;
  std::vector<ShapePart> shapes;
  /// A covariance computed elsewhere, over the nodes of a grid, [node][node]; empty: none.
  std::function<Eigen::MatrixXd(const car::Grid&)> given = {};
};

/// Load along an axis as the prior measures it: MAP/100 kPa; 1 - vacuum/100 kPa; throttle as it is.
/// All about 0.2..1.
double load_coordinate(car::AxisKind kind, double si);

/// An engine of which only a flat table is known: level, slopes, droop and bumps all wide.
Prior unknown_engine_prior();
/// A table that somebody made for this engine or one like it: 8 % smooth, 6 % level, 1.5 % fine
/// structure.
Prior table_as_found_prior();

/// mu over the nodes of a grid: sum of mean times shape.
Eigen::VectorXd mean(const Prior& prior, const car::Grid& grid);
/// K over the nodes of a grid, [node][node]. Positive definite (a 0.1 % independent part is always
/// in it).
Eigen::MatrixXd covariance(const Prior& prior, const car::Grid& grid);

}  // namespace fuelwright::advice
