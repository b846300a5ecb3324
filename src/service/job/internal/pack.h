/// Recordings at rest: zstd, smaller by 5 to 10 times for a text log.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace fuelwright::service::internal {

std::string pack(std::string_view bytes);
/// nullopt if `packed` is not sound or does not hold exactly `size` bytes.
std::optional<std::string> unpack(std::string_view packed, std::size_t size);

}  // namespace fuelwright::service::internal
