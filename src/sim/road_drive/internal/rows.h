/// The recorder: one row of plain decimal numbers for each moment, rounded as recorders round.
#pragma once

#include <string>

#include "sim/road_drive/road_drive.h"

namespace fuelwright::sim {

/// One row before it is rounded; SI.
struct Row {
  double seconds = 0, rpm = 0, map_pa = 0, throttle = 0, coolant_k = 0, intake_k = 0;
  double lambda = 1, lambda_target = 1, correction = 0, warm_up = 0, pulse_width_s = 0;
  double metered_air_kg_s = 0, battery_v = 0, speed_m_s = 0;
};

std::string header_line(const Columns& columns);
void append_row(std::string& text, const Row& row, const Columns& columns, double gauge_constant);

}  // namespace fuelwright::sim
