/// Kind: the fingerprint of a table's channels; see file_kind().
#pragma once

#include <string>

#include "signals/recording/internal/scan.h"

namespace fuelwright::signals {

std::string kind_of(const CsvTable& table);

}  // namespace fuelwright::signals
