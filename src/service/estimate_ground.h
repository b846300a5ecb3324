/// What an estimate stands on: everything the job knows, and what is to be estimated.
#pragma once

#include <deque>
#include <map>
#include <optional>
#include <string>

#include "advice/guard/rules.h"
#include "advice/map_estimate/prior.h"
#include "advice/outlook/ladder.h"
#include "physics/ensemble/ensemble.h"
#include "service/reading_json.h"
#include "service/service.h"

namespace fuelwright::service {

/// A level and a shape for an engine of which no table is known; both are in the prior's spread.
inline constexpr double kFlatVe = 0.80;

struct Loaded {
  RecordingRow row;
  HowRead how;
  signals::Recording recording;
};

struct Ground {
  car::Sheet sheet;
  std::optional<physics::Ensemble> ensemble;  ///< if a prediction was made of this sheet
  UnitSystem units = UnitSystem::metric;
  car::Calibration start;  ///< revision 0
  car::Revision in_force;
  std::map<int, car::Calibration> driven_with;
  std::deque<Loaded> recordings;
  advice::Rules guard = {};
  std::vector<MeasuredValue> measured = {};  ///< of the fuel supply, beside the sheet
  /// Steps of full throttle that were predicted and then driven (climbing.h).
  std::vector<advice::RungCheck> climbed = {};
};
/// `only`: of the recordings, this one alone.
Result<Ground> load_ground(const Job& job, const std::string& name,
                           std::optional<std::int64_t> only = {});

/// The table that was in the unit during a recording, times what the unit had learned over it;
/// nullopt if it is not known. A table of factors is 1 where the unit's own was left alone.
std::optional<car::Surface> in_the_unit(const Ground& ground, const Loaded& loaded,
                                        car::TableWhat what);

/// What is estimated, from which start, with which prior around it.
struct Task {
  car::TableWhat what = car::TableWhat::ve;
  car::Surface start;
  advice::Prior prior;
  bool by_ensemble = false;  ///< the engine computed from its parts is in start and prior
  std::string said = {};     ///< why it is not, where it might have been; or empty
};
Task task_of(const Ground& ground, const EstimateRequest& request);

}  // namespace fuelwright::service
