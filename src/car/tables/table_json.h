/// Tables as JSON for scripts: format "fuelwright tables 1", described by docs/tables.schema.json.
///
/// Values and axes are written in SI with their unit beside them, in the shortest digits that read
/// back to the same double. Other units of the same kind are read as well.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "car/tables/calibration.h"

namespace fuelwright::car {

/// All of a revision, or one part of it, with where it comes from and how each value came about.
std::string write_tables_json(const Revision& revision, std::optional<What> only = {});

/// Errors: bad_input naming the table, curve or setting and what is missing or wrong; unknown_unit;
/// out_of_range for axes and values that cannot be; too_large (over 4 MiB). What stands beside the
/// known names is passed over.
Result<Calibration> read_tables_json(std::string_view text);

}  // namespace fuelwright::car
