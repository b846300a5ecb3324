/// What can be believed of a job's recordings, for whoever learns from them.
///
///   const Trusted b = trusted(ground, loaded);
///   if (b.refused) leave_out(*b.refused); else learn_from(trusted_rows(loaded.recording,
///   b.masks));
///
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "advice/guard/guard_recording.h"
#include "advice/sensor_checks/sensor_checks.h"
#include "service/estimate_ground.h"

namespace fuelwright::service {

/// Rules of the guard as the job keeps them, or safe_rules() of the sheet while it keeps none.
/// Error: damaged if what it keeps cannot be read.
Result<advice::Rules> guard_rules(const Job& job, const car::Sheet& sheet);

/// A recording judged with the sheet and the table it was driven with.
advice::SensorReport check_recording(const Ground& ground, const Loaded& loaded,
                                     const advice::WeatherReport& weather = {});

/// What an estimate should know.
struct Trusted {
  std::optional<std::string> refused;     ///< nothing of it may be used, and why
  advice::Masks masks;                    ///< of sensors found wrong
  std::vector<advice::SetAside> blanked;  ///< by reason: rows that may not be used
};
Trusted trusted(const Ground& ground, const Loaded& loaded);

/// The recording with every value blanked (NaN) that may not be used. Rows masked as a whole lose
/// engine speed, pressure and mixture; those with a doubtful temperature the mixture.
signals::Recording trusted_rows(const signals::Recording& recording, const advice::Masks& masks);

/// Nodes that no proposal may lean: a rule of the guard about mixture, fuel or knock fired there,
/// and no later drive with a later revision has passed there since without it.
struct Guarded {
  std::vector<bool> nodes;           ///< one a node of the grid
  std::vector<std::string> because;  ///< "lean under load in recording 2: 2500 to 4490 rpm, ..."
};
Guarded guarded_nodes(const Ground& ground, const car::Grid& grid);

}  // namespace fuelwright::service
