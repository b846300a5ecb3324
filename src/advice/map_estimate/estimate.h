/// The map estimate, static form: from samples of driving to a table with its uncertainty.
///
/// Every sample says y = ln(true / table) at its place, with its own noise. A robust fit (Student-t
/// weights, a few passes) over the prior gives a joint posterior of all nodes. The information is
/// divided by what neighbouring samples repeat:
///
///   r_i = y_i - phi_i' x,   w_i = (nu + 1) / (nu + (r_i / s_i)^2) / s_i^2 (estimate.5) VIF = 1 + 2
///   sum rho_k, to the first rho_k < 0.05 or `longest_memory`                   (estimate.6)
///
/// Not in this form: wall film, transport delay and sensor lag. Their place is held by the noise of
/// moving samples (observe.h), so driving that never settles teaches little here. Theory:
/// docs/theory/map_estimate.md. Source: iterated reweighting of a Student-t likelihood, Lange,
/// Little and Taylor 1989; variance inflation by autocorrelation, Bayley and Hammersley 1946 (both
/// from memory).
#pragma once

#include <Eigen/Core>
#include <functional>
#include <string>
#include <vector>

#include "advice/map_estimate/prior.h"
#include "car/tables/evidence.h"

namespace fuelwright::advice {

/// One moment of driving that says something about the table.
struct Sample {
  car::OperatingPoint at;
  double y = 0;        ///< ln(true / table) as this sample says it [-]
  double sd = 0.02;    ///< its noise, one standard deviation [-]
  double seconds = 1;  ///< time it stands for; a row without time counts as one second
  /// ln(intake air temperature / 293.15 K) where VE itself was observed; 0 where the unit's own
  /// temperature correction is already in y, or nothing is known.
  double warmth = 0;
  int instrument =
      0;  ///< samples of one instrument share its level error; 0 is the reference and has none
  int stretch = 0;  ///< samples of one stretch of driving share a small drift
  int run =
      0;  ///< neighbours in time carry the same run; repetition is looked for inside a run only
  std::size_t row = 0;  ///< of its recording
};

/// Calls back once for every sample, in order. Asked several times; must give the same samples each
/// time.
using SampleSource = std::function<void(const std::function<void(const Sample&)>&)>;

struct EstimateOptions {
  Prior prior = table_as_found_prior();
  double nu = 4;                ///< degrees of freedom of the noise
  int passes = 7;               ///< at least 2
  double longest_memory_s = 5;  ///< autocorrelation is followed no further than this
  double drift_sd = 0.006;      ///< of one stretch [-]
  /// Warm air takes up less heat on its way in, so VE referred to intake temperature rises with the
  /// root of it: exponent 0.5 (Heywood 1988, section 6.2, from memory), here with its spread.
  double charge_exponent = 0.5;
  double charge_exponent_sd = 0.15;
  std::vector<double>
      instrument_level_sd;  ///< of instruments 1, 2, ...; the reference (0) has none
  /// What the model cannot know, added at every node: film and sensor dynamics bias this static
  /// form however long one drives. Chosen on twelve cars of an earlier, simpler simulator.
  double discrepancy = 0.0075;
  double discrepancy_low_load = 0.015;  ///< below 32 kPa
  /// Pulls noise scale: the stated noise counts as this many samples against what the residuals
  /// show.
  double noise_prior_samples = 50;
};

/// The part of the correction that is one factor on the whole table, weighted by where the car was
/// driven.
struct WholeTableShift {
  double ln = 0;  ///< ln of the factor
  double sd = 0;  ///< one standard deviation
};

enum class Verdict {
  good,         ///< the evidence may be used
  weak,         ///< something is known, but nothing is proven yet
  do_not_know,  ///< nothing was driven that teaches the table
};
const char* name_of(Verdict verdict);

struct MapEstimate {
  Verdict verdict = Verdict::do_not_know;
  std::string because;  ///< the verdict in words
  car::Evidence evidence;
  Eigen::VectorXd mean;        ///< delta at the nodes [-]
  Eigen::MatrixXd covariance;  ///< of delta, without the discrepancy, [node][node]
  Eigen::VectorXd prior_sd;    ///< of delta before driving
  Eigen::VectorXd usage;       ///< share of the driven time at each node, sums to 1
  double charge_exponent = 0;  ///< VE goes with (intake temperature / 293.15 K)^this; 0: not used
  double charge_exponent_sd = 0;
  Eigen::VectorXd charge_covariance;  ///< of the exponent with delta, per node
  WholeTableShift shift;
  std::vector<double> instrument_level;  ///< ln, per instrument; [0] = 0
  std::vector<double> instrument_level_sd;
  double noise_scale = 1;  ///< residuals against the stated noise
  double repetition = 1;   ///< VIF
  long samples = 0;
  double seconds = 0;  ///< time of all samples

  /// ln(true/table) at a place and its standard deviation, discrepancy included. The nodes hold for
  /// intake air of 20 degC; warmth = ln(T / 293.15 K) asks for another temperature.
  struct At {
    double ln;
    double sd;
  };
  At at(const car::OperatingPoint& point, double warmth = 0) const;
};

/// table: the table in force. Its values must be positive.
MapEstimate estimate(const car::Surface& table, car::TableWhat what, const SampleSource& samples,
                     const EstimateOptions& options);

}  // namespace fuelwright::advice
