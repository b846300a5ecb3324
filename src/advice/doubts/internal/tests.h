/// The doubts one by one. Each gives nothing where the recording cannot tell.
#pragma once

#include <optional>
#include <vector>

#include "advice/doubts/doubts.h"
#include "advice/doubts/internal/witness.h"

namespace fuelwright::advice::doubts {

/// Who corrected what: unit_corrected, not_applied, self_correction, other_table.
std::vector<Doubt> correction_doubts(const Asked& asked, const Timeline& t, const Witness& ratio);
/// Whether fuel or mixture follow the mixture's error: of a recording said to be open loop.
std::optional<Doubt> loop_doubt(const Witness& witness, const Timeline& t, bool is_ratio);
/// The level of fuel or air against what is believed.
std::optional<Doubt> count_doubt(const Asked& asked, const Timeline& t, const Witness& ratio);
std::optional<Doubt> leak_doubt(const Asked& asked, const Timeline& t);

}  // namespace fuelwright::advice::doubts
