/// The weather as a person gives it with a check.
#pragma once

#include "advice/sensor_checks/sensor_checks.h"

namespace fuelwright::service {

/// Errors: out_of_range naming the option, what is missing is fine.
Status check_weather(const advice::WeatherReport& weather);

}  // namespace fuelwright::service
