/// Pace: when the rows of a recording were taken, and where it breaks into segments.
#pragma once

#include <cstddef>
#include <vector>

#include "base/result.h"
#include "signals/channels/channel.h"
#include "signals/recording/recording.h"

namespace fuelwright::signals {

/// Sets segments, pace, time_s and row_step of a recording whose channels are filled.
/// breaks: rows before which the file starts again.
Status set_pace(Recording& recording, const std::vector<std::size_t>& breaks,
                const Answers& answers);

}  // namespace fuelwright::signals
