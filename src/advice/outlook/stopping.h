/// When to stop: what is behind each node, what driving cannot take away, and what more of the same
/// driving would bring.
///
///   const Stopping s = when_to_stop(estimate, covariance(prior, grid), {});
///   s.sentence(); s.verdict; s.half_width, s.half_width_later, s.half_width_floor
///
/// The readings' information on the nodes is what turned the prior K into the posterior C. Like
/// driving for t_more adds as much a second as there was, so with K = L L'
///
///   H = C^-1 - K^-1,   C(f) = (K^-1 + f H)^-1,   f = (t + t_more)/t                    (stop.1)
///   L^-1 C L^-T = V diag(mu) V',   C(f) = L V diag(1/(1 + f (1/mu - 1))) V' L'         (stop.2)
///   half-width = 1.96 sqrt(C_ii + floor_i^2)                                          (stop.3)
///
/// floor: the discrepancy, which no driving takes away; f without end gives what like driving can
/// reach at best. Seconds per node are effective ones (divided by repetition, estimate.6), so f is
/// the same for both. Theory: docs/theory/outlook.md.
#pragma once

#include <Eigen/Core>
#include <string>
#include <vector>

#include "advice/map_estimate/estimate.h"

namespace fuelwright::advice {

struct StoppingOptions {
  Duration more = 10.0 * minute;
  /// What all readings have in common and more of them does not cure (the level of the only
  /// instrument), one standard deviation of ln: no node gets better than this if it is not already.
  double shared_sd = 0;
  double good_enough = 0.03;  ///< usage-weighted half-width with which a table is done
};

enum class Stop {
  nothing_driven,
  drive_on,   ///< like driving still brings much
  elsewhere,  ///< like driving brings little; places not driven are where something is to be
              ///< learned
  enough,     ///< it is good where it is used, and nothing is a mere guess
};
const char* name_of(Stop stop);

/// Half-widths are shares, 95 %; arrays are [y][x] of the estimate's grid.
struct Stopping {
  Stop verdict = Stop::nothing_driven;
  Duration driven, more;
  std::vector<double> seconds;  ///< effective, behind each node
  std::vector<double> floor;    ///< half-width that no driving takes away
  std::vector<double> now, later;
  double half_width = 0;        ///< mean over the use of the car, now
  double half_width_later = 0;  ///< after `more` of like driving
  double half_width_best = 0;   ///< after like driving without end
  double half_width_floor = 0;  ///< the discrepancy alone
  int guesses = 0;              ///< nodes known to no better than 7 %
  int guesses_later = 0;
  /// "Where it is driven the table is known to +-1.6 %; 10 more minutes of the same would make it
  /// +-1.5 %, and no amount of it less than +-1.5 %. ..."
  std::string sentence() const;
};

/// `prior`: covariance of delta over the estimate's grid before driving, [node][node], positive
/// definite, the one the estimate was made with. Sizes that do not fit are broken contracts.
Stopping when_to_stop(const MapEstimate& estimate, const Eigen::MatrixXd& prior,
                      const StoppingOptions& options);

}  // namespace fuelwright::advice
