/// What a dynamic estimate knows, in a form that more driving can be added to, and the point at
/// which its model was linearised.
///
/// Order of the states: ln(true/table) at the nodes | dead-time offset [ms] | charge-temperature
/// weight | what the sensor adds (BesideAt) | what dilution adds (dilution.h) | levels of instruments 1, 2, ... | theta (theta.h).
/// Drift belongs to one recording and is integrated out.
#pragma once

#include <Eigen/Core>
#include <vector>

namespace fuelwright::advice {

/// What driving showed about the nodes themselves.
struct NodeDriving {
  Eigen::VectorXd seconds;  ///< used, by share
  Eigen::VectorXd all;      ///< used or not: how the car is used
  Eigen::VectorXd settled;  ///< of `seconds`: high load that had lasted
  Eigen::VectorXd warmth;   ///< sum over `all` of Driving::heating
  Eigen::VectorXd held;     ///< the same times Driving::heating_held
  double ln_open_load = 0;  ///< sum of ln(VE p / (PW - d0)): where an injector opens how long
  double inverse_open = 0;  ///< sum of 1/(PW - d0) [1/s]
  double weight = 0;        ///< rows in the two sums
  double driven_s = 0;      ///< usable time

  static NodeDriving none(int nodes) {
    const Eigen::VectorXd zero = Eigen::VectorXd::Zero(nodes);
    return {.seconds = zero,
            .all = zero,
            .settled = zero,
            .warmth = zero,
            .held = zero};
  }
};

/// Where the model is linearised, and what is held with it: weights of rows come from the residuals
/// at this point. The units' charge law of a Driving (driving.h) is held with its fuel and air.
struct HeldPoint {
  Eigen::VectorXd x;                         ///< without drift
  std::vector<std::vector<double>> drift{};  ///< knots of each recording; beyond: forgotten by e
  double noise_scale = 1;                    ///< of (dynamic.6)
  double repetition = 1;                     ///< VIF
  /// Rows weigh as if their residuals were small: x is only a guess.
  bool gently = false;
};

/// A posterior over the states, and the driving behind it.
struct Known {
  Eigen::VectorXd mean;
  Eigen::MatrixXd covariance;
  NodeDriving nodes;
  long samples = 0;
};

}  // namespace fuelwright::advice
