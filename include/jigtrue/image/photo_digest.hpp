// Tells whether two photos are the same picture, whatever their files are called and whatever else they carry.
#pragma once
#include "jigtrue/image/photo.hpp"

#include <string>

namespace jigtrue {

// 16 hexadecimal digits from the picture's size and its luma (FNV-1a over words of eight pixels). Not proof against
// forgery.
[[nodiscard]] std::string photo_digest(const Photo& photo);

}  // namespace jigtrue
