/// Invented cars: drive, estimate, and judge by the truth the estimate never saw.
///
/// The judge is a second drive of the same car without film, delay, lag, noise or correction, but
/// with its wrong injectors and charge temperature: there ln(lambda / target) at every row is
/// exactly what the table is off by.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "advice/map_estimate/observe.h"
#include "advice/map_estimate/proposal.h"
#include "sim/road_drive/road_drive.h"

namespace fuelwright::bench {

struct JudgedCar {
  double before = 0;      ///< rms mixture error with the table as found, over driven time [-]
  double averaged = 0;    ///< after plain averaging at the nodes (bilinear shares)
  double after = 0;       ///< after our estimate
  double within_3 = 0;    ///< share of driven time within 3 % after our estimate
  double held = 0;        ///< share of driven time in which the 95 % interval holds the truth
  double half_width = 0;  ///< median half-width over driven time [-]
};

/// One car of the seed: `minutes` of driving, judged on the same road (`judge_road` = road) or
/// another one.
JudgedCar judge(std::uint64_t car, std::uint64_t road, std::uint64_t judge_road, double minutes,
                advice::Way way);

}  // namespace fuelwright::bench
