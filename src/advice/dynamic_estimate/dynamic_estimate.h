/// The map estimate, dynamic form: table, wall film, delay, lag, drift and injector offset
/// estimated together.
///
///   r_i = ln(lambda read) - ln(lambda predicted),   rows LP_lag[phi shares(t_d)]/LP_lag[phi]
///   s_i^2 = h0 + h1 film_i^2 + h2 (0.05 s d pred/dt)^2 + h3 lean_i^2                 (dynamic.6)
///   x <- mu + (K^-1 + H)^-1 h, linearised at x; Student-t weights (estimate.5), VIF (estimate.6)
///   change of a node = delta + dd/(PW - d0 there)                                    (dynamic.7)
///
/// Gauss and Newton, about seven passes. States: ln(true/table) at the nodes, dead-time offset,
/// charge-temperature weight, idle bias of the sensor, levels of instruments, theta (forward.h) and
/// a drift knot a minute. Masked: after a fuel cut, overrun below 16 kPa, large film imbalance,
/// *predicted* mixtures beyond the sensor. Recordings without a regular clock join as static
/// samples.
/// Theory: docs/theory/dynamic_estimate.md. The dynamics have not been tried on a real car.
#pragma once

#include <array>
#include <span>

#include "advice/dynamic_estimate/driving.h"
#include "advice/dynamic_estimate/known.h"
#include "advice/dynamic_estimate/theta.h"
#include "advice/map_estimate/estimate.h"

namespace fuelwright::advice {

struct DynamicOptions {
  Prior prior = table_as_found_prior();
  DynamicsPrior dynamics;  ///< DynamicsPrior::of(sheet)
  int passes = 10;         ///< at most; it stops earlier when nothing moves
  double nu = 4;
  // Noise (dynamic.6). Chosen on cars 101 to 112 of bench/full_estimate.
  double h0 = 0.006 * 0.006;
  double h1 = 0.10 * 0.10;
  double h2 = 0.1;
  double h3 = 0.1;
  double largest_film = 0.50;  ///< |film_i| beyond which a row is masked
  double largest_lean = 0.04;  ///< believed to be added by dilution, beyond which a row is masked
  double longest_memory_s = 5;
  double noise_prior_samples = 50;
  Duration dead_time_sd = 0.05 * ms;
  double heating_sd = 0.04;  ///< of w (driving.h)
  double drift_sd = 0.006;
  double drift_memory_s = 120;
  /// Of a recording against others: another day's humidity, another sensor. Only where there are
  /// several.
  double recording_level_sd = 0.004;
  std::vector<double> instrument_level_sd = {};  ///< of instruments 1 (pulse width), 2 (air meter)
  // Discrepancy at every node; below 32 kPa; where full load was only reached by short pulls.
  double discrepancy = 0.007;
  double discrepancy_low_load = 0.016;
  double discrepancy_short_pulls = 0.009;
  /// Where dilution is believed to add to the reading: this share of it, and no more than that. How
  /// VE falls towards the idle of a cam with overlap, driving on either side does not tell.
  double discrepancy_dilution = 0.35;
  double most_discrepancy_dilution = 0.05;
};

/// An unknown beside the table, and how sure it is.
struct Learned {
  double value = 0;
  double sd = 0;
};

struct DynamicEstimate {
  MapEstimate map;  ///< mean and covariance hold (dynamic.7)
  Theta theta{};
  Theta theta_sd{};
  Learned dead_time_ms;  ///< a basis for the table's sake: never the injectors' dead time as such
  Learned heating;
  std::array<Learned, kBesides> beside;  ///< of the sensor, by BesideAt
  long masked = 0;  ///< rows with a reading that were not used
  int passes = 0;
  HeldPoint point;                 ///< the last linearisation: of the covariance
  Known known;                     ///< to go on from (incremental.h)
  std::vector<std::string> notes;  ///< for people: a slow sensor and the like
};

/// `drives` and `others` (static samples; empty: none) make one posterior. No drive at all: the
/// static estimate is what is wanted (a broken contract).
DynamicEstimate estimate_dynamic(const car::Surface& start, car::TableWhat what,
                                 std::span<const Driving> drives, const SampleSource& others,
                                 const DynamicOptions& options);

/// The same with everything held at a point: one linear solve, nothing iterated. known: what
/// earlier driving taught, with the same states; nullptr: nothing. The point's x has the states of
/// Known::mean.
DynamicEstimate estimate_dynamic_at(const HeldPoint& point, const car::Surface& start,
                                    car::TableWhat what, std::span<const Driving> drives,
                                    const SampleSource& others, const DynamicOptions& options,
                                    const Known* known = nullptr);

}  // namespace fuelwright::advice
