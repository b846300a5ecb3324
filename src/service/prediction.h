/// The question "what will this engine do, and what calibration does it start with?": request and
/// reply.
#pragma once

#include <functional>
#include <stop_token>
#include <string>
#include <vector>

#include "advice/prediction/prediction.h"
#include "base/units/number.h"
#include "car/tables/evidence.h"
#include "physics/ensemble/what_to_measure.h"

namespace fuelwright::service {

struct Who;

/// Whether the computed calibration becomes the revision in force.
enum class Keep {
  if_first,  ///< where nothing stands in its way: no VE table as found, nothing driven, no later
             ///< revision
  always,    ///< a new revision, whatever is in force
  never,
};

struct PredictRequest {
  std::string job;
  /// Engines, 16..512; none: as many as the last prediction of the job, else 64.
  std::optional<int> members = {};
  Keep keep = Keep::if_first;
  std::string why;  ///< for the journal; may be empty
  std::string who, when;
  int threads = 1;
  std::stop_token stop = {};
  std::function<void(double share)> progress = {};  ///< 0..1; from any thread
};

struct PredictReply {
  std::string sentence;   ///< power, idle, how well full-throttle fuel is known
  std::string not_known;  ///< what the parts cannot tell
  UnitSystem units = UnitSystem::metric;
  int members = 0;
  bool drawn_now = false;  ///< false: the job had this ensemble already
  double load_axis_ambient_pa = 101'325;
  advice::FullThrottle full;
  advice::Idle idle;
  std::vector<advice::MixtureChoice> mixtures;
  car::MixtureScale scale;  ///< on which mixtures are shown
  std::optional<car::Evidence>
      evidence;  ///< always there; of VE: what is predicted and how well; nothing is measured yet
  std::vector<physics::Worth>
      measure_next;  ///< the most worthwhile first, for each kind of driving
  advice::FirstCalibration first;
  std::optional<int> revision;  ///< that it became
  std::string not_kept;         ///< why it became none
};
/// The ensemble of engines of this sheet is drawn, or taken from the job where it is kept. Errors:
/// those of draw_engines(), predict_engine(), first_calibration(); conflict when it was stopped.
Result<PredictReply> predict(const PredictRequest& request);

}  // namespace fuelwright::service
