#include "advice/proposal/carried.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace fuelwright::advice {
namespace {

constexpr double kCarries = 0.25;  // share from which a node's mark counts

bool within(const car::Axis& axis, double x) { return x >= axis[0] && x <= axis[axis.size() - 1]; }

bool is_complete(const MapEstimate& e) {
  const std::size_t n = e.evidence.grid.size();
  const auto k = static_cast<Eigen::Index>(n);
  return e.evidence.estimate.size() == n && e.evidence.sd_log.size() == n &&
         e.evidence.seconds.size() == n && e.evidence.mark.size() == n &&
         e.covariance.rows() == k && e.covariance.cols() == k && e.prior_sd.size() == k;
}

// Marks in the order in which they are sure.
int doubt(car::NodeMark mark) {
  return mark == car::NodeMark::measured ? 0 : mark == car::NodeMark::inferred ? 1 : 2;
}

}  // namespace

Result<Carried> Carried::onto(const MapEstimate& estimate, const car::Grid& grid) {
  EXPECTS(is_complete(estimate));
  const car::Grid& has = estimate.evidence.grid;
  if (has.x.kind() != grid.x.kind() || has.y.kind() != grid.y.kind()) {
    return Error{ErrorCode::bad_input, "",
                 fmt::format("the estimate stands over {} and {}, the table over {} and {}",
                             car::label_of(has.x.kind()), car::label_of(has.y.kind()),
                             car::label_of(grid.x.kind()), car::label_of(grid.y.kind()))};
  }
  Carried out(estimate, grid);
  out.nodes_.reserve(grid.size());
  for (std::size_t iy = 0; iy < grid.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
      out.nodes_.push_back(out.carry(grid.x[ix], grid.y[iy]));
    }
  }
  return out;
}

Carried::Node Carried::carry(double x, double y) const {
  const MapEstimate& e = *estimate_;
  const car::Grid& from = e.evidence.grid;
  Node out;
  out.shares = from.shares(x, y);
  out.inside = within(from.x, x) && within(from.y, y);
  out.mark = car::NodeMark::measured;
  double value = 0;
  double floor = 0;
  for (int a = 0; a < out.shares.count; ++a) {
    const int k = out.shares.node[a];
    const auto i = static_cast<std::size_t>(k);
    const double p = out.shares.share[a];
    value += p * e.evidence.estimate[i];
    const double own = std::max(0.0, e.covariance(k, k));
    floor += p * std::max(0.0, e.evidence.sd_log[i] * e.evidence.sd_log[i] - own);
    const double before = e.prior_sd[k] * e.prior_sd[k];
    out.learned += p * std::clamp(before > 0 ? 1 - own / before : 0.0, 0.0, 1.0);  // (proposal.4)
    out.seconds += p * e.evidence.seconds[i];
    if (p >= kCarries && doubt(e.evidence.mark[i]) > doubt(out.mark)) out.mark = e.evidence.mark[i];
  }
  EXPECTS(value > 0);
  out.ln_value = std::log(value);  // (proposal.3)
  out.floor_sd = std::sqrt(floor);
  if (!out.inside) {
    out.mark = car::NodeMark::prior_only;
    out.learned = 0;
    out.seconds = 0;
  }
  return out;
}

double Carried::covariance(std::size_t i, std::size_t j) const {
  const car::NodeShares& a = nodes_[i].shares;
  const car::NodeShares& b = nodes_[j].shares;
  double sum = 0;
  for (int k = 0; k < a.count; ++k) {
    for (int l = 0; l < b.count; ++l) {
      sum += a.share[k] * b.share[l] * estimate_->covariance(a.node[k], b.node[l]);  // (proposal.3)
    }
  }
  return sum;
}

double Carried::sd(std::size_t i) const {
  const double floor = nodes_[i].floor_sd;
  return std::sqrt(std::max(0.0, covariance(i, i)) + floor * floor);
}

}  // namespace fuelwright::advice
