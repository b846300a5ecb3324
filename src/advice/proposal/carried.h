/// A map estimate carried onto the nodes of a table, whatever axes that table has.
///
///   FW_TRY(const Carried c, Carried::onto(estimate, table.grid));
///   c.ln_value(i);  c.sd(i);  c.covariance(i, j);      // of ln(true value) there
///
///   ln v_i = ln sum_k p_ik e_k,   cov_ij = sum_kl p_ik p_jl C_kl                      (proposal.3)
///
/// p_ik  shares of the estimate's nodes at node i (tables.1); e_k  estimate; C  posterior of
/// delta. On the estimate's own grid this is the estimate itself. Theory: docs/theory/proposal.md.
#pragma once

#include <utility>
#include <vector>

#include "advice/map_estimate/estimate.h"
#include "base/result.h"

namespace fuelwright::advice {

class Carried {
 public:
  /// `estimate` must outlive it, with its arrays complete (as estimate() makes them). Errors:
  /// bad_input if `grid` has axes of another kind.
  static Result<Carried> onto(const MapEstimate& estimate, const car::Grid& grid);

  const car::Grid& grid() const { return grid_; }
  std::size_t size() const { return grid_.size(); }
  const MapEstimate& estimate() const { return *estimate_; }

  double ln_value(std::size_t i) const { return nodes_[i].ln_value; }
  /// Standard deviation of it, discrepancy included.
  double sd(std::size_t i) const;
  /// What no amount of driving takes away: the discrepancy alone.
  double floor_sd(std::size_t i) const { return nodes_[i].floor_sd; }
  /// Between nodes, discrepancy left out.
  double covariance(std::size_t i, std::size_t j) const;
  /// Share of what was unknown before driving that driving took away, 0..1 (proposal.4)
  double learned(std::size_t i) const { return nodes_[i].learned; }
  double seconds(std::size_t i) const { return nodes_[i].seconds; }
  /// Of the nodes that carry it (shares of a quarter and more) the least sure; "prior only" outside
  /// the estimate's axes.
  car::NodeMark mark(std::size_t i) const { return nodes_[i].mark; }
  /// False where the table reaches beyond the estimate's axes: nothing is known of it there.
  bool inside(std::size_t i) const { return nodes_[i].inside; }

 private:
  struct Node {
    car::NodeShares shares;
    double ln_value = 0;
    double floor_sd = 0;
    double learned = 0;
    double seconds = 0;
    car::NodeMark mark = car::NodeMark::prior_only;
    bool inside = true;
  };
  Carried(const MapEstimate& estimate, car::Grid grid)
      : estimate_(&estimate), grid_(std::move(grid)) {}
  Node carry(double x, double y) const;

  const MapEstimate* estimate_;
  car::Grid grid_;
  std::vector<Node> nodes_;
};

}  // namespace fuelwright::advice
