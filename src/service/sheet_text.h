/// One value put into the text of a sheet, as car::write_sheet() writes it: a line a key.
#pragma once

#include <string>

#include "base/result.h"
#include "service/sheets.h"

namespace fuelwright::service {

/// Errors: not_found naming the nearest section or key; usage for a source that cannot be given.
Status put_value(std::string& toml, const ValueChange& change);

/// "sheet:14: engine.bore" -> "engine.bore".
std::string place_without_line(const std::string& where);

}  // namespace fuelwright::service
