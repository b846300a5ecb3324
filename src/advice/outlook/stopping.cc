#include "advice/outlook/stopping.h"

#include <fmt/format.h>

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>

#include "advice/map_estimate/judge.h"
#include "advice/outlook/internal/climb.h"
#include "base/contract.h"

namespace fuelwright::advice {
namespace {

using internal::kTo95;

constexpr double kWorthwhile = 0.10;   // share of the half-width that more driving should take away
constexpr double kSmallest_mu = 1e-9;  // information beyond it is rounding
constexpr double kTaught = 1e-6;       // of 1: directions that driving has said nothing about

// (stop.2), ready for any f.
class More {
 public:
  More(const Eigen::MatrixXd& K, const Eigen::MatrixXd& C) {
    const Eigen::LLT<Eigen::MatrixXd> llt(K);
    EXPECTS(llt.info() == Eigen::Success);
    const Eigen::MatrixXd half = llt.matrixL().solve(C);
    Eigen::MatrixXd M = llt.matrixL().solve(half.transpose());
    M = 0.5 * (M + M.transpose()).eval();
    const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> eigen(M);
    EXPECTS(eigen.info() == Eigen::Success);
    mu_ = eigen.eigenvalues().cwiseMax(kSmallest_mu).cwiseMin(1.0);
    LV_ = llt.matrixL() * eigen.eigenvectors();
  }

  // Variances at f; infinite f leaves only what like driving says nothing about.
  Eigen::VectorXd variances(double f) const {
    const Eigen::VectorXd left = mu_.unaryExpr([&](double mu) {
      if (std::isinf(f)) return mu > 1 - kTaught ? mu : 0.0;
      return 1 / (1 + f * (1 / mu - 1));  // (stop.2)
    });
    return LV_.array().square().matrix() * left;
  }

 private:
  Eigen::VectorXd mu_;
  Eigen::MatrixXd LV_;
};

// (stop.3), with what all readings share kept.
std::vector<double> half_widths(const Eigen::VectorXd& variance, const Eigen::VectorXd& now,
                                const Eigen::VectorXd& floor, double shared) {
  std::vector<double> out;
  for (Eigen::Index i = 0; i < variance.size(); ++i) {
    const double kept = std::min(now[i], shared * shared);
    const double v = std::min(now[i], std::max(variance[i], kept));
    out.push_back(kTo95 * std::sqrt(v + floor[i] * floor[i]));
  }
  return out;
}

double over_use(const std::vector<double>& half_width, const Eigen::VectorXd& usage) {
  double sum = 0;
  for (std::size_t i = 0; i < half_width.size(); ++i) {
    sum += half_width[i] * usage[static_cast<Eigen::Index>(i)];
  }
  return sum;
}

int guesses_in(const std::vector<double>& half_width) {
  return static_cast<int>(std::count_if(half_width.begin(), half_width.end(),
                                        [](double h) { return h >= kTo95 * kGuess_sd; }));
}

Stop judge(const Stopping& s, double good_enough) {
  const double gain = s.half_width - s.half_width_later;
  if (s.half_width <= good_enough && s.guesses == 0) return Stop::enough;
  const bool worth =
      gain > kWorthwhile * s.half_width || s.guesses - s.guesses_later > s.guesses / 10;
  if (worth) return Stop::drive_on;
  return s.guesses > 0 ? Stop::elsewhere : Stop::enough;
}

std::string pm(double half_width) { return fmt::format("\xC2\xB1{:.1f} %", 100 * half_width); }

}  // namespace

const char* name_of(Stop stop) {
  switch (stop) {
    case Stop::nothing_driven:
      return "nothing driven";
    case Stop::drive_on:
      return "drive on";
    case Stop::elsewhere:
      return "drive elsewhere";
    case Stop::enough:
      return "enough";
  }
  broken_contract("a verdict of the list", __FILE__, __LINE__);
}

std::string Stopping::sentence() const {
  const double minutes = more.in(minute);
  if (verdict == Stop::nothing_driven) return "Nothing was driven yet that teaches this table.";
  std::string out = fmt::format(
      "Where it is driven the table is known to {}; {:.0f} more minutes of the same would make it "
      "{}, and no amount of it less than {}.",
      pm(half_width), minutes, pm(half_width_later), pm(half_width_best));
  switch (verdict) {
    case Stop::drive_on:
      return out + fmt::format(" It is worth it{}.",
                               guesses > 0 ? fmt::format("; of {} nodes that are still guesses {} "
                                                         "would remain so",
                                                         guesses, guesses_later)
                                           : std::string());
    case Stop::elsewhere:
      return out + fmt::format(
                       " Driving more of the same will not help here; {} nodes are still "
                       "guesses, and only driving elsewhere teaches them.",
                       guesses);
    default:
      return out + " Driving more will not help: stop here.";
  }
}

Stopping when_to_stop(const MapEstimate& e, const Eigen::MatrixXd& prior,
                      const StoppingOptions& options) {
  const Eigen::Index n = e.covariance.rows();
  EXPECTS(prior.rows() == n && prior.cols() == n && e.usage.size() == n);
  EXPECTS(e.evidence.sd_log.size() == static_cast<std::size_t>(n));
  EXPECTS(options.more.si > 0 && options.shared_sd >= 0 && options.good_enough > 0);
  const Eigen::VectorXd now = e.covariance.diagonal().cwiseMax(0.0);
  Eigen::VectorXd floor(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const double sd = e.evidence.sd_log[static_cast<std::size_t>(i)];
    floor[i] = std::sqrt(std::max(0.0, sd * sd - now[i]));
  }
  Stopping out;
  out.driven = e.seconds * second;
  out.more = options.more;
  out.seconds = e.evidence.seconds;
  for (Eigen::Index i = 0; i < n; ++i) out.floor.push_back(kTo95 * floor[i]);
  out.now = half_widths(now, now, floor, 0);
  out.later = out.now;
  out.guesses = out.guesses_later = guesses_in(out.now);
  if (!(e.seconds > 0)) return out;
  const More more(prior, e.covariance);
  const double f = (e.seconds + options.more.si) / e.seconds;
  out.later = half_widths(more.variances(f), now, floor, options.shared_sd);
  const auto best = half_widths(more.variances(INFINITY), now, floor, options.shared_sd);
  out.half_width = over_use(out.now, e.usage);
  out.half_width_later = over_use(out.later, e.usage);
  out.half_width_best = over_use(best, e.usage);
  out.half_width_floor = over_use(out.floor, e.usage);
  out.guesses_later = guesses_in(out.later);
  out.verdict = judge(out, options.good_enough);
  return out;
}

}  // namespace fuelwright::advice
