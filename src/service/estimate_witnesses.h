/// The recordings of a job made ready to speak: as drives with their dynamics where their clock
/// allows it, else as static samples; those that cannot be believed are left out, with the reason.
///
/// The posterior is always made afresh from the start and all recordings, so that nothing is ever
/// counted twice. A recording that speaks relative to the table in the unit is referred to the
/// start through the table it was driven with:
///
///   ln(true / start) = ln(true / driven) + ln(driven / start)                        (estimate.7)
#pragma once

#include <deque>
#include <optional>
#include <vector>

#include "advice/dynamic_estimate/driving.h"
#include "service/estimate_ground.h"

namespace fuelwright::service {

/// One recording as static samples.
struct Speaker {
  std::size_t listed = 0;  ///< its place in EstimateReply::recordings
  advice::Observer observer;
  std::optional<car::Surface> driven;  ///< relative ways: the table in the unit, if not the start
  int instrument = 0;
  int first_run = 0;
  int first_stretch = 0;
};

struct Witnesses {
  std::deque<signals::Recording> trusted;  ///< what the speakers and drives read; stays in place
  std::vector<advice::Driving> drives;
  std::vector<std::size_t> listed;  ///< of each drive: its place in EstimateReply::recordings
  std::deque<Speaker> speakers;     ///< recordings without a clock that shows dynamics
  /// The drives once more, as static samples: not to learn from, to compare recordings by.
  std::deque<Speaker> beside;
};

/// Fills `list`. Error: that of the first recording, if none can speak. Ground and task must
/// outlive the answer.
Result<Witnesses> witnesses_of(const Ground& ground, const Task& task,
                               const EstimateRequest& request, std::vector<UsedRecording>& list);

/// All samples of some speakers, referred to the start (estimate.7).
advice::SampleSource join(const std::deque<Speaker>& speakers, const Task& task);

}  // namespace fuelwright::service
