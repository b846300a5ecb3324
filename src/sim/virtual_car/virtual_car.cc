#include "sim/virtual_car/virtual_car.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/virtual_car/internal/car_at_work.h"

namespace fuelwright::sim::virtual_car {
namespace {

constexpr double kShortest_s = 5, kLongest_s = 36000;
constexpr double kTolerance_m_s = 2 * 0.44704;  // 2 mph (40 CFR part 86, from memory)
constexpr double kEarlyOrLate_s = 1;

Result<double> length_of(const DriveRequest& request) {
  double length = 0;
  if (request.length) {
    length = request.length->si;
  } else if (const auto* cycle = std::get_if<Cycle>(&request.task)) {
    length = cycle->length().si;
  } else {
    length = kLongest_s;
  }
  if (!(length >= kShortest_s && length <= kLongest_s)) {
    return Error{ErrorCode::out_of_range, "length of the drive",
                 fmt::format("{} s came; expected {} to {}", length, kShortest_s, kLongest_s)};
  }
  return length;
}

Status check(const Truth& truth, const car::Calibration& calibration, const DriveRequest& request) {
  if (!truth.has_air()) {
    return Error{ErrorCode::needs_answer, "truth", "has no air; expected ve and residual tables"};
  }
  if (calibration.find(car::TableWhat::ve) == nullptr) {
    return Error{ErrorCode::needs_answer, "calibration", "has no ve table; the unit needs one"};
  }
  FW_CHECK(car::validate(calibration));
  if (truth.computer.self_correction > 0 && truth.sensor.fitted < 1) {
    return Error{ErrorCode::conflict, "truth",
                 "the unit corrects itself, but no mixture sensor is fitted"};
  }
  if (const auto* plan = std::get_if<car::Plan>(&request.task)) return car::validate(*plan);
  if (std::get<Cycle>(request.task).time_s.size() < 2) {
    return Error{ErrorCode::bad_input, "cycle", "has fewer than two points"};
  }
  return Done{};
}

/// Within what the cycle asked for between a second ago and a second ahead.
bool within(const Cycle& cycle, double time_s, double speed_m_s) {
  const double length = std::max(cycle.length().si, 1.0);
  double low = 1e9, high = -1e9;
  for (double t = -kEarlyOrLate_s; t <= kEarlyOrLate_s + 1e-9; t += 0.25) {
    const double asked = cycle.speed_at({std::fmod(std::max(time_s + t, 0.0), length)}).si;
    low = std::min(low, asked);
    high = std::max(high, asked);
  }
  return speed_m_s > low - kTolerance_m_s && speed_m_s < high + kTolerance_m_s;
}

}  // namespace

Result<Drive> drive_car(const Truth& truth, const car::Sheet& sheet,
                        const car::Calibration& calibration, const DriveRequest& request) {
  FW_CHECK(check(truth, calibration, request));
  FW_TRY(const double length_s, length_of(request));
  CarAtWork work(truth, sheet, calibration, request);
  Rows rows(truth, request.seed);
  Drive out;
  out.recording = rows.header();
  const double row_s = 1 / truth.recorder.rows_per_second;
  const auto* cycle = std::get_if<Cycle>(&request.task);
  double next_row_s = 0;
  long followed = 0, counted = 0;
  const auto steps = static_cast<long>(std::floor(length_s / kStep_s + 1e-9));
  for (long i = 0; i < steps && !work.finished(); ++i) {
    work.step();
    const double now_s = static_cast<double>(i) * kStep_s;
    if (now_s < next_row_s - 1e-9) continue;
    next_row_s += row_s;
    Row row = work.row();
    row.seconds = now_s;
    rows.append(out.recording, row);
    if (request.keep_truth) out.truth.push_back(work.moment());
    if (cycle == nullptr) continue;
    ++counted;
    followed += within(*cycle, now_s, row.speed_m_s);
  }
  out.cut_short = work.cut_short();
  if (const auto* plan = std::get_if<car::Plan>(&request.task); plan && !work.finished()) {
    for (std::size_t i = work.steps_over(); i < plan->steps.size(); ++i) {
      out.cut_short.push_back(static_cast<int>(i + 1));
    }
  }
  out.distance = work.distance_m() * metre;
  out.fuel = work.injected_kg() * kg;
  if (counted > 0)
    out.within_tolerance = static_cast<double>(followed) / static_cast<double>(counted);
  if (truth.computer.self_correction > 0) out.learned = work.computer().learned();
  return out;
}

}  // namespace fuelwright::sim::virtual_car
