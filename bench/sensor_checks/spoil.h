/// Faults that change the recording and not the car: made in the rows, with a seed.
#pragma once

#include <cstdint>

#include "signals/channels/channel.h"

namespace fuelwright::bench {

using signals::Quantity;
using signals::Recording;

/// `rate`: of the rows [-].
void blank(Recording& r, Quantity q, double rate, std::uint64_t seed);
/// Falls to `to` (SI) for one or two rows.
void spike(Recording& r, Quantity q, double rate, double to, std::uint64_t seed);
/// Holds its value for `for_s`, `times` times, always from a moment at which the engine moves.
void hold(Recording& r, Quantity q, double for_s, int times, std::uint64_t seed);
/// Rounded to steps (SI).
void quantise(Recording& r, Quantity q, double step);
/// Ends at a value (SI).
void limit_top(Recording& r, Quantity q, double top);
void add(Recording& r, Quantity q, double offset, double from_s = 0);
void add_noise(Recording& r, Quantity q, double sd, std::uint64_t seed);
/// Amplitude times cos(2 pi order turns); dies away with speed as e^(-n/fade) if fade > 0 [rpm].
void add_in_step(Recording& r, Quantity q, double amplitude, double order, double fade_rpm);
/// Time stamps off, one standard deviation [s]; order is kept.
void jitter(Recording& r, double sd_s, std::uint64_t seed);
/// Rows taken out: `times` gaps of `for_s`.
void drop_rows(Recording& r, double for_s, int times, std::uint64_t seed);
/// Each channel renewed only every `round` rows, in turn.
void poll(Recording& r, int round);
/// Teeth of a 36-tooth wheel lost at a rate; a reading looks back over nine of them.
void lose_teeth(Recording& r, double rate, std::uint64_t seed);
/// Lambda read is 1 + gain (lambda - 1) above 1, with noise.
void shorten_lean(Recording& r, double gain, std::uint64_t seed);
/// Lambda stands at `at` for the first seconds.
void cold_sensor(Recording& r, double for_s, double at);
/// Lambda passes another lag [s].
void slow_mixture(Recording& r, double lag_s);
/// Judged again after changes: freshness, simultaneity.
void judge(Recording& r);

}  // namespace fuelwright::bench
