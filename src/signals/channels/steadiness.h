/// Freshness and steadiness: how old a value in a row may be, and how much it was moving there.
///
/// A logger that polls its channels in turn writes rows in which some values are new and the rest
/// are held. Two such values belong together only while nothing moves. find_refresh() reads the
/// period of renewal from the values, judge_simultaneity() compares channels, change_around() is
/// the measure by which an estimator distrusts a row.
#pragma once

#include <cstddef>
#include <span>

#include "signals/channels/channel.h"

namespace fuelwright::signals {

/// The period of renewal of one channel [rows].
///
///   g_k  rows from one change of the value to the next, inside a segment
///   r = mean of those g_k that are at most 1.5 times their own 10th percentile (recordings.3)
///
/// Empty with fewer than 30 changes, when the 10th percentile is above 20 rows, when fewer than 30
/// % of the g_k are that short, or when r > 1 but most changes are single steps of the channel's
/// resolution (slow, not held). Where more than a fifth of the cells are blank, the blanks are the
/// time between renewals: r = rows / filled cells.
Refresh find_refresh(std::span<const double> values, std::span<const Segment> segments);

/// Sets `refresh` of every channel, then `simultaneity` with its reason. Linear in the number of
/// values.
///
/// polled_in_turn if moving channels differ in their period by 1.5 or more, or if rows in which
/// anything changes are 1.5 times as many as the rows in which the busiest channel changes (they
/// take turns).
void judge_simultaneity(Recording& recording);

/// How much a channel moves around a row [the channel's SI unit]: the spread (largest less
/// smallest) of v[i-d], v[i], v[i+d], d the rows of one renewal (or the next cell that is filled,
/// up to 3 d), inside the segment                    (recordings.4). At a segment's end the one
/// side that exists counts. NaN if the value or all neighbours are gaps, if the segment is shorter
/// than d + 1 rows, or if the rows are unordered.
double change_around(const Recording& recording, const Channel& channel, std::size_t row);

}  // namespace fuelwright::signals
