/// The rows of one recording at a held point, made ready for the normal equations. One place for
/// the batch and for the estimate that runs along.
///
///   r_i = ln(read) - ln(predicted at x0),   row_i = d ln(predicted)/dx at x0,
///   y_i = r_i + row_i' (x0 - mu),   weight by (dynamic.6) and Student-t at x0
///
/// Nodes by the low-passed shares, theta, dd and w by difference quotients, the rest exact. What a
/// row says depends on the rows before it and on the one after it, never on the pieces they came
/// in.
#pragma once

#include <array>

#include "advice/dynamic_estimate/internal/forward.h"
#include "advice/dynamic_estimate/internal/normal_equations.h"

namespace fuelwright::advice {

/// What rows add up to.
struct Taught {
  Sums sums;
  NodeDriving nodes;  // seconds and settled only
  double weighted_squares = 0;
  long samples = 0;
  long masked = 0;  // rows with a reading that were not used
  explicit Taught(const DynamicLayout& layout)
      : sums(layout.states()), nodes(NodeDriving::none(layout.nodes)) {}
};

class DriveRows {
 public:
  /// Keeps references; driving and layout may grow.
  DriveRows(const Driving& driving, std::size_t recording, const DynamicLayout& layout,
            const DynamicOptions& options);

  DriveRows(const DriveRows&) = delete;
  DriveRows& operator=(const DriveRows&) = delete;

  /// A new point. mu: prior mean without drift. drift: knots of this recording. gently: all weights
  /// as if residuals were small.
  void begin(const Eigen::VectorXd& x, const Eigen::VectorXd& mu, std::vector<double> drift,
             double noise_scale, bool gently);
  /// Another layout of the same states; `dropped`: knots of this recording that it has no more.
  void lay_out(const DynamicLayout& layout, int dropped) {
    layout_ = &layout;
    dropped_ = dropped;
  }
  /// Runs the model over all rows that the driving has now.
  /// `every`: derivatives only at every so manieth.
  void run(std::size_t every = 1);
  /// Rows before `last` that have not taught yet, or every so manieth of them, in place of the others
  /// too. A row without a next row is masked.
  void teach(std::size_t last, Taught& taught, std::size_t every = 1);

  std::size_t run_to() const { return forward_.done(); }
  std::size_t taught_to() const { return taught_; }
  /// Standardised, [row]; NaN where a row was masked.
  const std::vector<double>& residuals() const { return z_; }
  /// The first row between this knot and the next.
  std::size_t first_row_of_knot(int knot) const;

 private:
  double knot_rows() const { return layout_->knot_s[recording_] / driving_->step_s; }
  void believe_leans();
  bool used(std::size_t row) const;
  double fill(std::size_t row, const SparseLowPass& low, double inside);
  void one(std::size_t row, const SparseLowPass& low, double weight, Taught& taught);

  const Driving* driving_;
  std::size_t recording_;
  const DynamicLayout* layout_;
  int dropped_ = 0;
  const DynamicOptions* o_;
  Forward forward_;
  std::array<Forward::Again, kThetas + 2> moved_;  // predictions with one parameter moved
  TableRows table_;
  Eigen::VectorXd x_, mu_;
  std::vector<double> drift_;
  double noise_scale_ = 1;
  bool gently_ = false;
  std::size_t taught_ = 0;
  std::vector<Dilution::Lean> leans_;  // by row of the engine
  std::vector<double> since_lean_s_;
  std::vector<double> z_;
  std::vector<Entry> row_;
  double linear_ = 0;  // row' (x0 - mu)
  double lean_ = 0;    // that dilution was believed to add
};

/// The drift that a point holds at a knot; beyond its knots it is forgotten by e.
double held_drift(const std::vector<double>& drift, int knot, double knot_s,
                  const DynamicOptions& options);

/// How the car is used, and how long its injectors open where: rows first..last.
void count_use(const car::Surface& start, const Driving& driving, std::size_t first,
               std::size_t last, NodeDriving& nodes);

}  // namespace fuelwright::advice
