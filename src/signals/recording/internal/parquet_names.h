/// Names and texts that every SQL engine takes.
#pragma once

#include <string>
#include <string_view>

namespace fuelwright::signals {

/// Small letters, digits and single _: "MAP (kPa)" is map_kpa. "%" is pct.
std::string sql_word(std::string_view text);
/// The text, if it is UTF-8; else each byte beyond ASCII becomes "?".
std::string as_utf8(std::string_view text);

}  // namespace fuelwright::signals
