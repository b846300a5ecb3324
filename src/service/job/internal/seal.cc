#include "service/job/internal/seal.h"

#include <openssl/evp.h>

#include <array>

#include "base/contract.h"

namespace fuelwright::service::internal {

std::string sha256_hex(std::string_view bytes) {
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned int size = 0;
  const int done =
      EVP_Digest(bytes.data(), bytes.size(), digest.data(), &size, EVP_sha256(), nullptr);
  EXPECTS(done == 1 && size == 32);
  constexpr std::string_view kHex = "0123456789abcdef";
  std::string out;
  out.reserve(64);
  for (unsigned int i = 0; i < size; ++i) {
    out += kHex[digest[i] >> 4U];
    out += kHex[digest[i] & 15U];
  }
  return out;
}

Seal& Seal::add(std::string_view field) {
  joined_ += std::to_string(field.size());
  joined_ += ':';
  joined_ += field;
  return *this;
}

Seal& Seal::add(std::int64_t field) { return add(std::string_view(std::to_string(field))); }

Seal& Seal::add(std::optional<std::int64_t> field) {
  return field ? add(*field) : add(std::string_view("none"));
}

}  // namespace fuelwright::service::internal
