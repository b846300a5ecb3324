#include "service/weather.h"

namespace fuelwright::service {
namespace {

Status within(const char* what, const std::optional<double>& value, double low, double high,
              const char* expected) {
  if (!value || (*value >= low && *value <= high)) return Done{};
  return Error{ErrorCode::out_of_range, what, expected};
}

template <class Point>
std::optional<double> si(const std::optional<Point>& p) {
  return p ? std::optional(p->from_zero.si) : std::nullopt;
}

}  // namespace

Status check_weather(const advice::WeatherReport& w) {
  const auto amount = [](const auto& q) { return q ? std::optional(q->si) : std::nullopt; };
  FW_CHECK(within("--barometer", si(w.station), 50e3, 110e3,
                  "expected the pressure at the place, 50 to 110 kPa"));
  FW_CHECK(within("--sea-level", si(w.sea_level), 87e3, 109e3,
                  "expected the pressure of a weather report, 87 to 109 kPa"));
  FW_CHECK(within("--altitude", amount(w.altitude), -430, 6000, "expected -430 to 6000 m"));
  FW_CHECK(within("--air", si(w.air), 213, 333, "expected -60 to 60 degC"));
  return within("--stood", amount(w.stood), 0, 1e9, "expected 0 h or more");
}

}  // namespace fuelwright::service
