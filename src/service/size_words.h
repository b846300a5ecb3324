/// The sentences of a size.
#pragma once

#include <string>
#include <vector>

#include "service/size.h"

namespace fuelwright::service {

/// "the pump", "the injectors".
std::string words_of(physics::supply::Weak part);

/// One change: what becomes what, and that it is not enough where it is not.
std::string words_of(const physics::supply::Cure& cure, const physics::supply::System& as_is,
                     UnitSystem units);
std::string words_of(const physics::supply::Worth& worth);

/// Fill sentence, also and not_known of a reply whose numbers stand.
void say(SizeReply* reply);
/// Fill words and warnings of the limits.
void say_limits(const car::Sheet& sheet, UnitSystem units, SaidLimits* limits);

}  // namespace fuelwright::service
