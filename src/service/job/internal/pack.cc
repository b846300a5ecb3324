#include "service/job/internal/pack.h"

#include <zstd.h>

#include "base/contract.h"

namespace fuelwright::service::internal {

std::string pack(std::string_view bytes) {
  std::string out(ZSTD_compressBound(bytes.size()), '\0');
  const std::size_t used =
      ZSTD_compress(out.data(), out.size(), bytes.data(), bytes.size(), ZSTD_CLEVEL_DEFAULT);
  EXPECTS(!ZSTD_isError(used));
  out.resize(used);
  return out;
}

std::optional<std::string> unpack(std::string_view packed, std::size_t size) {
  if (ZSTD_getFrameContentSize(packed.data(), packed.size()) != size) return std::nullopt;
  std::string out(size, '\0');
  const std::size_t got = ZSTD_decompress(out.data(), out.size(), packed.data(), packed.size());
  if (ZSTD_isError(got) || got != size) return std::nullopt;
  return out;
}

}  // namespace fuelwright::service::internal
