/// `check JOB --first-start`: what is not answered on the command line is asked one by one.
#pragma once

#include "base/result.h"
#include "commands.h"
#include "service/first_start.h"

namespace fuelwright::apps {

/// The list. On a terminal open questions are asked; elsewhere they are needs_answer. Errors: usage
/// for options of another kind of check beside it; those of service::first_start().
Result<service::FirstStartReply> first_start_of(const CheckOptions& o,
                                                const advice::WeatherReport& weather);

}  // namespace fuelwright::apps
