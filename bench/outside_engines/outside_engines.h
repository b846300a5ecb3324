/// Engines from outside the project: full-load torque of one engine, rated power of many cars,
/// predicted from inputs that were written down before (tests/outside/engine_1900_dohc.toml,
/// rated_cars.h).
///
///   const auto curve = *full_load(folder, sheet, {});  // 12 points, each with its interval
///   const auto cars = *rated_cars(folder, rule);       // 91 cars, for bias and scatter
///
/// Nothing here is fitted to what it is scored on, the two baselines excepted, which say so. What
/// the model's typical values have seen stands in docs/theory/outside_checks.md.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "base/result.h"
#include "car/build/sheet.h"

namespace fuelwright::bench {

struct LoadPoint {
  double rpm = 0, measured_nm = 0;
  double one_cylinder_nm = 0, whole_engine_nm = 0;  ///< every part as the sheet has it
  double low_nm = 0, middle_nm = 0,
         high_nm = 0;  ///< of the ensemble, structure and discrepancy in it
  bool held() const { return measured_nm >= low_nm && measured_nm <= high_nm; }
};
struct Errors {
  double mean = 0, rms = 0, sd = 0;  ///< of predicted over measured, less 1 [-]
};
Errors errors_of(const std::vector<double>& predicted, const std::vector<double>& measured);

struct FullLoadSettings {
  int members = 64;
  std::uint64_t seed = 1;
};
/// `folder`: of the outside data; `sheet`: its text. Errors: io if a file is missing; those of
/// read_sheet() and engine_model().
Result<std::vector<LoadPoint>> full_load(const std::string& folder, const std::string& sheet,
                                         const FullLoadSettings& settings = {});

struct RatedCar {
  int cylinders = 0;
  double litres = 0, rpm = 0;
  double measured_bar = 0;  ///< brake mean effective pressure at rated power
  double one_cylinder_bar = 0, whole_engine_bar = 0;  ///< ours, from the three numbers
  double constant_bar = 0, regression_bar = 0;        ///< fitted to these cars: baselines
};
/// A car's sheet from cylinders, displacement and the speed of its rated power.
using SheetFromRating = std::function<Result<car::Sheet>(int, Volume, EngineSpeed)>;
/// Errors: as above, and those of the rule.
Result<std::vector<RatedCar>> rated_cars(const std::string& folder, const SheetFromRating& rule);

}  // namespace fuelwright::bench
