// Text of a file, made fit for a message.
#include "car/tables/internal/shown.h"

namespace fuelwright::car::internal {

// RFC 3629, section 4: the second byte tells overlong forms, halves of pairs and what is beyond.
std::size_t character_at(std::string_view text, std::size_t i) {
  const auto byte = [&](std::size_t k) -> unsigned {
    return i + k < text.size() ? static_cast<unsigned char>(text[i + k]) : 0U;
  };
  const auto tail = [&](std::size_t k) { return (byte(k) & 0xC0U) == 0x80U; };
  const unsigned lead = byte(0);
  const unsigned second = byte(1);
  if (lead < 0x80) return 1;
  if (lead < 0xC2 || lead > 0xF4 || !tail(1)) return 0;
  if (lead < 0xE0) return 2;
  if (!tail(2)) return 0;
  if (lead < 0xF0) {
    const bool bad = (lead == 0xE0 && second < 0xA0) || (lead == 0xED && second > 0x9F);
    return bad ? 0 : 3;
  }
  const bool bad = (lead == 0xF0 && second < 0x90) || (lead == 0xF4 && second > 0x8F);
  return !tail(3) || bad ? 0 : 4;
}

bool is_utf8(std::string_view text) {
  for (std::size_t i = 0; i < text.size();) {
    const std::size_t length = character_at(text, i);
    if (length == 0) return false;
    i += length;
  }
  return true;
}

std::string shown(std::string_view text) {
  constexpr std::size_t kLongest = 40;
  std::string out;
  std::size_t i = 0;
  while (i < text.size() && out.size() < kLongest) {
    const std::size_t length = character_at(text, i);
    const auto byte = static_cast<unsigned char>(text[i]);
    if (length == 0) {
      out += '?';
    } else if (byte < 0x20 || byte == 0x7F) {
      out += ' ';
    } else {
      out += text.substr(i, length);
    }
    i += length == 0 ? 1 : length;
  }
  return i < text.size() ? out + "..." : out;
}

}  // namespace fuelwright::car::internal
