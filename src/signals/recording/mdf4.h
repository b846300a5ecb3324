/// MDF 4 out: a recording becomes an ASAM MDF 4.10 file that other programs read.
///
///   Mdf4Written file = write_mdf4(drive, {.start_utc_ns = 1'700'000'000'000'000'000});
///
/// Reading needs no call of its own: read_recording() and recognise() know MDF 4 by its first
/// bytes.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "signals/channels/channel.h"

namespace fuelwright::signals {

enum class Mdf4Packing {
  plain,     ///< one DT block
  deflated,  ///< transposed and deflated blocks of about 4 MB
};

struct Mdf4Options {
  std::uint64_t start_utc_ns = 0;  ///< of the first row, since 1970; 0 if nobody knows
  Mdf4Packing packing = Mdf4Packing::plain;
};

struct Mdf4Written {
  std::string bytes;
  std::vector<std::string> warnings;  ///< what the format could not carry
};

/// One sorted group: a time master (f64, seconds; the index of the record where the recording has
/// no time) and one channel for each of the recording's, in SI with its unit, as f32 where that
/// loses nothing and f64 otherwise. Gaps are marked invalid. Rows without a time are left out, as
/// the format has no place for them; segments are not kept. Same input, same bytes.
Mdf4Written write_mdf4(const Recording& recording, const Mdf4Options& options = {});

}  // namespace fuelwright::signals
