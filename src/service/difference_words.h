/// What differs between two tables, in a mechanic's words: more fuel, less fuel, richer, leaner.
#pragma once

#include <string>

#include "car/tables/difference.h"

namespace fuelwright::service {

/// "VE", "the lambda target", "the correction", "the spark".
const char* words_for(car::TableWhat what);

/// "VE: 14 of 192 nodes, up to 6.2 % more fuel at 3500 rpm, 80.0 kPa and up to 2.1 % less at 1000
/// rpm, 40.0 kPa"
std::string in_words(const car::TableDifference& difference, UnitSystem units);
/// "warm-up fuel: 3 of 8 points, most at -20.00 degC (70.0 % before, 65.0 % now)"
std::string in_words(const car::CurveDifference& difference, UnitSystem units);
/// "hard rev limit: 6400 rpm before, 6200 rpm now"
std::string in_words(const car::SettingDifference& difference, UnitSystem units);

}  // namespace fuelwright::service
