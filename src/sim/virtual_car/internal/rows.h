/// The recorder: rounds, polls in turn, leaves out, and writes one row of plain numbers a moment.
#pragma once

#include <array>
#include <string>
#include <vector>

#include "sim/virtual_car/internal/random.h"
#include "sim/virtual_car/truth.h"

namespace fuelwright::sim::virtual_car {

/// One row before it is rounded; SI.
struct Row {
  double seconds = 0, rpm = 0, map_pa = 0, throttle = 0, coolant_k = 0, intake_k = 0;
  std::array<double, 2> lambda{1, 1};
  double lambda_target = 1, correction = 0, warm_up = 0, pulse_width_s = 0, metered_air_kg_s = 0;
  double battery_v = 0, rail_pa = 0, speed_m_s = 0;
};

class Rows {
 public:
  Rows(const Truth& truth, std::uint64_t seed);
  std::string header() const;
  void append(std::string& text, const Row& row);

 private:
  struct Column {
    const char* title;
    const char* name;  ///< of channel_names(); "" is always there
    int digits;
    double (*value)(const Row&, double gauge_constant);
    double held = 0;
  };
  std::vector<Column> columns_;
  double gauge_constant_, jitter_s_;
  int polled_in_;
  long row_ = 0;
  double last_s_ = -1;
  Random random_;
};

}  // namespace fuelwright::sim::virtual_car
