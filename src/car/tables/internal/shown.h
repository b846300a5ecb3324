/// Text of a file as it may stand in a message: short, on one line, UTF-8.
#pragma once

#include <string>
#include <string_view>

namespace fuelwright::car::internal {

/// Bytes of the UTF-8 character that begins at text[i]; 0 if none does.
std::size_t character_at(std::string_view text, std::size_t i);
bool is_utf8(std::string_view text);

/// At most 40 bytes; control characters become blanks, bytes that are no UTF-8 question marks.
std::string shown(std::string_view text);

}  // namespace fuelwright::car::internal
