/// What to measure next: by how much each usual measurement would narrow the map where this car is
/// driven.
///
///   for (const Worth& w : what_to_measure(ensemble, usual_driving(ensemble, sheet)))
///   print(w.says());
///   // "degreeing the cam: full throttle from +-12 % to +-9 %"
///
/// From the sensitivities J_k (one part alone at z = +1): knowing part k to the share r_k of its
/// half-width takes J_k^2 (1 - r_k^2) off the variance at a node (ensemble.9)
#pragma once

#include <string>
#include <vector>

#include "physics/ensemble/ensemble.h"

namespace fuelwright::physics {

/// A kind of driving and how much of it happens at each node.
struct Driving {
  std::string name;         ///< "idle", "cruise", "full throttle"
  Eigen::VectorXd weights;  ///< per node, >= 0
};

/// Idle near the wished speed (at the pressure usual for the cam's overlap), cruise, and full
/// throttle up to the rev limit. Typical of street cars; common practice, no source.
std::vector<Driving> usual_driving(const Ensemble& ensemble, const car::Sheet& sheet);

struct Worth {
  std::string driving;
  std::string measuring;           ///< "degreeing the cam"
  std::vector<std::string> parts;  ///< names of the parts it tells
  double before = 0;               ///< 95 % half-width of ln VE there, rms over the driving
  double after = 0;                ///< the same once it has been measured
  bool predicted = true;           ///< false: more than half of this driving is at unknown nodes
  std::string says() const;        ///< "degreeing the cam: full throttle from +-12 % to +-9 %"
};

/// For each driving in turn, the most worthwhile first; what changes less than a hundredth of the
/// half-width is left out. Empty without steps (DrawSettings::steps) or where no known node is
/// driven.
std::vector<Worth> what_to_measure(const Ensemble& ensemble, const std::vector<Driving>& driving);

/// How much of the members' variance the steps explain, sum_k J_k^2 over it, per node: about 1
/// where VE is linear in the parts; below where parts work together; 0 at unknown nodes. Where it
/// exceeds 1, what_to_measure() shrinks J to fit.
Eigen::VectorXd explained_by_steps(const Ensemble& ensemble);

}  // namespace fuelwright::physics
