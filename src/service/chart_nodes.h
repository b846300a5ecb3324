/// What the nodes of a chart rest on, and in words.
#pragma once

#include "service/chart.h"

namespace fuelwright::service {

/// Seconds (rows, where there is no time) of a recording at each node, by shares (tables.1); rows
/// with a coolant below 70 degC do not count.
Rests rests_on(const DecodedRecording& of, const car::Grid& grid, AbsolutePressure ambient);

/// One line a node: place, estimate with its interval, seconds, what it rests on.
std::vector<std::string> node_words(const ChartReply& chart);

}  // namespace fuelwright::service
